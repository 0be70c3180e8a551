"""One band of a sheet: what of a copy falls into it, and its dots there.

A band is composed by itself, so bands may be made at the same time and of any height, and join to the same dots. Only error
diffusion hands something on from band to band.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmhand.gang.composed import CONTINUOUS
from filmhand.gang.film import Film, read_words
from filmhand.gang.oriented import Oriented
from filmhand.gang.places import window_of
from filmhand.gang.stored import read_planes
from filmhand.halftone import raster
from filmhand.halftone.bits import WORD, Words, shifted, words_for
from filmhand.halftone.diffusion import Carried, Diffusion, diffuse
from filmhand.halftone.raster import Grid, Plane, Screen
from filmhand.marks.mark import Mark
from filmhand.rules import is_white

_EVERY_TONE = np.arange(256, dtype=np.uint8)

InkScreen = tuple[raster.Tile, ...] | Diffusion
"""Tiles as `raster.widened` makes them, one a drop size; or error diffusion."""


@dataclass(frozen=True, eq=False)
class Copy:
    """One copy on the sheet, in whole dots of the sheet. `sent`: by ink, for a controller that screens (`Screening.tones`)."""

    picture: Oriented
    film: Film
    left: int
    top: int
    inks: Mapping[str, InkScreen]
    sent: Mapping[str, NDArray[np.uint8]]

    @property
    def bottom(self) -> int:
        """The first row below it."""
        return self.top + self.film.height

    @property
    def diffuses(self) -> bool:
        """Whether any ink is screened by error diffusion, so that each row needs the one above."""
        return any(isinstance(screen, Diffusion) for screen in self.inks.values())


@dataclass(frozen=True, eq=False)
class Canvas:
    """A band's dots, and where its first row is on the sheet.

    `film`: rows×words, dots of film; `under`: those under which white may lie. `inks`: by ink, levels×rows×words, dots of at
    least each drop size. At 8 bits instead: `film_tones`: rows×columns uint8, 255 = film everywhere, and `ink_tones`: by ink the
    same, 255 = full ink. `width`: dots across the film.
    """

    top: int
    rows: int
    width: int
    film: Words
    under: Words
    inks: Mapping[str, Words]
    film_tones: NDArray[np.uint8]
    ink_tones: Mapping[str, NDArray[np.uint8]]

    @classmethod
    def bare(cls, top: int, rows: int, *, width: int, inks: tuple[str, ...], bits: int) -> "Canvas":
        """A band of bare film."""
        words, continuous = words_for(width), bits == CONTINUOUS
        levels = 0 if continuous else (1 << bits) - 1
        columns = words * WORD if continuous else 0
        return cls(
            top=top,
            rows=rows,
            width=width,
            film=np.zeros((rows if levels else 0, words), np.uint64),
            under=np.zeros((rows if levels else 0, words), np.uint64),
            inks={ink: np.zeros((levels, rows, words), np.uint64) for ink in inks},
            film_tones=np.zeros((rows, columns), np.uint8),
            ink_tones={ink: np.zeros((rows, columns), np.uint8) for ink in inks},
        )


def rows_of(copy: Copy, top: int, rows: int) -> range:
    """The copy's own rows that fall into a band; none if they do not meet."""
    return range(max(copy.top, top) - copy.top, min(copy.bottom, top + rows) - copy.top)


@dataclass(frozen=True, eq=False)
class _Strip:
    """A copy's rows in a band. `islands`, `under`: where film and where white may lie. `at`: where they lie on the canvas."""

    grid: Grid
    islands: Words
    under: Words
    rows: slice
    words: slice
    source: slice


def draw(copy: Copy, own: range, canvas: Canvas, carried: Mapping[str, Carried]) -> dict[str, Carried]:
    """Lay a copy's own rows on a band. `carried`: by ink, what error diffusion left over in the rows above; returns the same."""
    strip = _strip(copy, own, canvas)
    if not strip.islands.any() and not copy.diffuses:
        return {}
    stored = copy.picture.stored
    planes = read_planes(stored.planes, tuple(range(len(stored.inks))), strip.source.start, strip.source.stop)
    by_ink = dict(zip(stored.inks, planes, strict=True))
    if canvas.film_tones.size:
        _lay_tones(copy, strip, by_ink, canvas)
        return {}
    canvas.film[strip.rows, strip.words] |= strip.islands
    canvas.under[strip.rows, strip.words] |= strip.under
    left_over = {}
    for ink, plane in by_ink.items():
        where = strip.under if is_white(ink) else strip.islands
        levels, screen = canvas.inks[ink][:, strip.rows, strip.words], copy.inks[ink]
        if isinstance(screen, Diffusion):
            left_over[ink] = _diffused(plane, strip, (screen, carried.get(ink)), where, levels)
            continue
        first, known = canvas.top + strip.rows.start, _with_full_rows(plane) if is_white(ink) else plane
        for tile, level in zip(screen, levels, strict=True):
            raster.ink_bits(known, strip.grid, _placed(tile, copy, first), where, level)
    return left_over


def stamp(mark: Mark, canvas: Canvas) -> int:
    """Lay a mark's dots on a band, full drops in its planes, film under them; how many. What lies past the film is left out."""
    rows = range(max(mark.top, canvas.top, 0), min(mark.bottom, canvas.top + canvas.rows))
    first, last = max(mark.left, 0), min(mark.left + mark.width, canvas.width)
    if not rows or first >= last:
        return 0
    dots = mark.drawing.drawn(mark.width, mark.height)
    dots = dots[rows.start - mark.top : rows.stop - mark.top, first - mark.left : last - mark.left]
    own = slice(rows.start - canvas.top, rows.stop - canvas.top)
    if canvas.film_tones.size:
        for tones in (canvas.film_tones, *(canvas.ink_tones[plane] for plane in mark.planes)):
            tones[own, first:last][dots] = 255
        return int(np.count_nonzero(dots))
    words = slice(first // WORD, words_for(last))
    laid = _words(dots, first % WORD)
    for plane in (canvas.film, canvas.under, *(canvas.inks[plane] for plane in mark.planes)):
        plane[..., own, words] |= laid
    return int(np.count_nonzero(dots))


def _words(dots: NDArray[np.bool_], offset: int) -> Words:
    """Dots h×w bool as words, from bit `offset` of the first on."""
    after = words_for(offset + dots.shape[1]) * WORD - offset - dots.shape[1]
    return np.packbits(np.pad(dots, ((0, 0), (offset, after))), axis=1, bitorder="little").view(np.uint64)


def _strip(copy: Copy, own: range, canvas: Canvas) -> _Strip:
    film, offset = copy.film, copy.left % WORD
    room = words_for(offset + film.width)
    window = window_of(copy.picture, (film.width, film.height), (own.start, own.stop), offset=offset)
    first = copy.top + own.start - canvas.top
    return _Strip(
        grid=window.grid,
        islands=shifted(read_words(film.islands, own.start, own.stop), offset, room),
        under=shifted(read_words(film.white, own.start, own.stop), offset, room),
        rows=slice(first, first + len(own)),
        words=slice(copy.left // WORD, copy.left // WORD + room),
        source=slice(window.first, window.last),
    )


def _lay_tones(copy: Copy, strip: _Strip, planes: Mapping[str, Plane], canvas: Canvas) -> None:
    """For a controller that screens: coverage, and each ink times coverage."""
    columns = slice(strip.words.start * WORD, strip.words.stop * WORD)
    (coverage,) = read_planes(copy.picture.stored.coverage, (0,), strip.source.start, strip.source.stop)
    full = coverage._replace(tones=np.full_like(coverage.tones, 255), peak=np.full_like(coverage.peak, 255))
    raster.tones_of(full, coverage, strip.grid, strip.islands, _EVERY_TONE, canvas.film_tones[strip.rows, columns])
    for ink, plane in planes.items():
        where = strip.under if is_white(ink) else strip.islands
        raster.tones_of(plane, coverage, strip.grid, where, copy.sent[ink], canvas.ink_tones[ink][strip.rows, columns])


def _diffused(
    plane: Plane, strip: _Strip, by: tuple[Diffusion, Carried | None], where: Words, levels: NDArray[np.uint64]
) -> Carried:
    """Lay an ink's dots by error diffusion; what is left over for the rows below."""
    tones = np.empty((where.shape[0], where.shape[1] * WORD), np.uint8)
    raster.dot_tones(plane, strip.grid, tones)
    dots, left_over = diffuse(tones, by=by[0], carried=by[1])
    levels |= dots & where
    return left_over


def _with_full_rows(plane: Plane) -> Plane:
    """White is often full all along a row, where there is film and where not: such rows need no screening."""
    tones = plane.tones[: plane.peak.size * plane.width]
    return plane._replace(full=tones.reshape(-1, plane.width).min(axis=1) == 255)  # noqa: PLR2004


def _placed(tile: raster.Tile, copy: Copy, row: int) -> Screen:
    """A tile as it lies on the sheet, from a row and from the copy's first word on."""
    height, width = tile.shape[0], tile.shape[1] - raster.FURTHER
    return Screen(tile, width, row % height, copy.left // WORD * WORD % width)
