"""A design's film in the printer's dots: its islands, and where white may lie under them.

Made once for all copies of a design that lie alike, and kept beside its separation. The screen of coverage begins at the
design's own corner, so that every copy has the same dots wherever it lies. Rows are screened in bands; least dots and holes are
enforced on the whole design, whose dots (a bit each, three planes) are all that is held.
"""

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import numpy as np

from filmhand.gang.kept import kept
from filmhand.gang.oriented import Oriented
from filmhand.gang.places import window_of
from filmhand.gang.stored import Array, open_array, read_planes, read_rows
from filmhand.halftone import raster
from filmhand.halftone.bits import Words, words_for
from filmhand.halftone.choke import EDGE_PX, Disc, dilate, disc, erode
from filmhand.halftone.islands import enforced
from filmhand.halftone.raster import Screen
from filmhand.halftone.screening import FilmScreen

_BAND: Final = 1024
"""Rows screened at a time."""
_ISLANDS, _WHITE = "islands.npy", "white.npy"


@dataclass(frozen=True, eq=False)
class Film:
    """Dots of a design: `islands` carry film, under `white` of them white may lie. Rows of words, as bytes."""

    width: int
    height: int
    islands: Array
    white: Array


@dataclass(frozen=True, eq=False)
class _Made:
    """Rows×words. `islands`: film before any least dot. `screened`: where a screen decided. `ending`: where coverage ends."""

    islands: Words
    screened: Words
    ending: Words


def film_of(picture: Oriented, size: tuple[int, int], screening: FilmScreen, *, continuous: bool) -> Film:
    """The film of a picture of so many dots across and down, from the folder beside it or made now.

    `continuous`: the print controller screens; then islands are wherever there is any coverage.
    """
    folder = picture.stored.folder / f"film-{_key(picture, size, screening, continuous=continuous)}"

    def fill(part: Path) -> None:
        islands, white = _film(picture, size, screening, continuous=continuous)
        np.save(part / _ISLANDS, islands.view(np.uint8))
        np.save(part / _WHITE, white.view(np.uint8))

    kept(folder, fill)
    return Film(*size, open_array(folder / _ISLANDS), open_array(folder / _WHITE))


def read_words(array: Array, first: int, last: int) -> Words:
    """Rows `first` to `last` (not included) of the dots in a film's array."""
    return read_rows(array, 0, first, last).view(np.uint64)


def _key(picture: Oriented, size: tuple[int, int], screening: FilmScreen, *, continuous: bool) -> str:
    """All that decides a film, beside the separation that it lies in."""
    lengths = screening.choke_px, screening.island_choke_px, screening.least_dot_px, screening.least_hole_px
    facts = repr((size, picture.flip_x, picture.flip_y, continuous, screening.spreads, screening.coverage.shape, lengths))
    return hashlib.sha256(facts.encode() + screening.coverage.tobytes()).hexdigest()[:24]


def _film(picture: Oriented, size: tuple[int, int], screening: FilmScreen, *, continuous: bool) -> tuple[Words, Words]:
    """Islands, and where white may lie, rows×words each."""
    whole = _whole(picture, size, screening, continuous=continuous)
    choke = disc(screening.choke_px)
    if continuous:
        return whole.islands, erode(whole.ending, choke)
    dot, hole = _least(screening.least_dot_px), _least(screening.least_hole_px)
    rim = disc(screening.island_choke_px)
    islands = whole.islands | (dilate(whole.islands, rim) & whole.screened) if screening.spreads else whole.islands
    islands = enforced(islands, whole.screened, least_dot=dot, least_hole=hole, chance=screening.chance, width=size[0])
    under = erode(islands, rim) & erode(whole.ending | islands, choke)
    return islands, under


def _least(across_px: tuple[float, float]) -> Disc:
    return disc((across_px[0] / 2, across_px[1] / 2))


def _whole(picture: Oriented, size: tuple[int, int], screening: FilmScreen, *, continuous: bool) -> _Made:
    """The design's dots, screened band by band; `continuous`: its islands are all that has any coverage."""
    width, height = size
    shape = height, words_for(width)
    made = _Made(np.empty(shape, np.uint64), np.empty(shape, np.uint64), np.empty(shape, np.uint64))
    stored = picture.stored
    edge = disc((EDGE_PX * width / stored.width_px, EDGE_PX * height / stored.height_px))
    tile = raster.widened(screening.coverage)
    for first, last in _bands(height):
        reach = 2 * (len(edge) - 1)  # an edge is told by what lies so far off
        start, end = max(0, first - reach), min(height, last + reach)
        window = window_of(picture, size, (start, end))
        (coverage,) = read_planes(stored.coverage, (0,), window.first, window.last)
        screen = Screen(tile, screening.coverage.shape[1], start % tile.shape[0], 0)
        band = _banded(raster.film_bits(coverage, window.grid, screen), edge, continuous=continuous)
        own = slice(first - start, last - start)
        made.islands[first:last], made.screened[first:last] = band.islands[own], band.screened[own]
        made.ending[first:last] = band.ending[own]
    return made


def _bands(height: int) -> Iterator[tuple[int, int]]:
    return ((first, min(first + _BAND, height)) for first in range(0, height, _BAND))


def _banded(bits: raster.FilmBits, edge: Disc, *, continuous: bool) -> _Made:
    """The film of some rows."""
    hard = hard_edges(bits, edge)
    islands = bits.any if continuous else either(bits.islands, bits.half, hard)
    return _Made(islands, bits.any & ~bits.solid & ~hard, either(bits.any, bits.half, hard))


def hard_edges(bits: raster.FilmBits, edge: Disc) -> Words:
    """The dots about edges. An edge is not a tone: where coverage goes from nothing to full within the pixels that smooth an edge
    (`edge`: their disc), film ends where it is one half, sharp at the dots' resolution, instead of being screened; and white is
    choked from there.
    """
    middle = dilate(bits.full, edge) & ~erode(bits.some, edge)  # half way: near what is full and near what is bare
    return dilate(middle, edge) if middle.any() else middle


def either(tone: Words, edge: Words, where: Words) -> Words:
    """`edge` where `where` has dots, else `tone`."""
    return np.asarray(tone ^ ((tone ^ edge) & where), np.uint64)
