"""How much of a design is artwork, film and ink: one pass over its planes, added up in pixels.

The white is counted as it will lie, pulled in from where film ends. By the rule that sheets are composed by (gang/band.py): an
edge ends where coverage is one half, soft and screened film where there is none; but at the artwork's own resolution.
"""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Final, NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from filmhand.colour.compiled import compiled
from filmhand.halftone.choke import EDGE_PX, disc, mask
from filmhand.rules import is_white
from filmhand.separation.model import Separation

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]
Reals = NDArray[np.float32]

_NEAR_PX: Final = round(EDGE_PX)
_ROWS: Final = 256
"""Rows worked at a time."""
_HALF: Final = 128


@dataclass(frozen=True)
class FilmSums:
    """Of a design, in pixels: `artwork`, its alpha added up; `film`, under film; `ink`, by plane, full ink (1 = a full layer).

    So a pixel of half coverage with a plane's amount at one half adds a quarter to `ink`.
    """

    artwork: float
    film: float
    ink: Mapping[str, float]

    def __add__(self, other: "FilmSums") -> "FilmSums":
        """Both together."""
        ink = {plane: amount + other.ink[plane] for plane, amount in self.ink.items()}
        return FilmSums(self.artwork + other.artwork, self.film + other.film, ink)


class Islands(NamedTuple):
    """What screens make of coverage: by its tone, (256,) shares of the area, 0 to 1, under `film` and under `white`."""

    film: Floats
    white: Floats


@dataclass(frozen=True, eq=False)
class Counting:
    """How ink is counted. `curves`: by plane, (256,) amounts, 0 to 1, sent to the printer for tones 0 to 255.

    `choke_px`: how far white is pulled in, in pixels of the artwork across and down.
    """

    curves: Mapping[str, Floats]
    choke_px: tuple[float, float]
    islands: Islands


def film_sums(separation: Separation, alpha: Bytes, counting: Counting) -> FilmSums:
    """What a whole separation comes to, and the artwork's alpha (h, w), 255 = opaque, that it was made of."""
    sums = _none(separation.inks)
    for near, own in bands(len(alpha), counting.choke_px):
        part = replace(separation, planes=separation.planes[:, near], coverage=separation.coverage[near])
        sums += sums_of(part, alpha[near], own, counting)
    return sums


def bands(height: int, choke_px: tuple[float, float]) -> Iterator[tuple[slice, slice]]:
    """Bands of rows: each with the rows about it that choking looks at, and where its own lie among those."""
    reach = 2 * _NEAR_PX + int(np.ceil(choke_px[1]))
    for first in range(0, height, _ROWS):
        last = min(first + _ROWS, height)
        top, bottom = max(0, first - reach), min(height, last + reach)
        yield slice(top, bottom), slice(first - top, last - top)


def sums_of(part: Separation, alpha: Bytes, own: slice, counting: Counting) -> FilmSums:
    """What the rows `own` of a part come to, and its artwork's alpha (h, w)."""
    coverage = np.ascontiguousarray(part.coverage)
    artwork = int(alpha[own].sum(dtype=np.int64)) / 255
    if not coverage[own].any():
        return replace(_none(part.inks), artwork=artwork)
    edge = _edge(coverage)
    film, white = (_shares(coverage[own], edge[own], share) for share in counting.islands)
    white *= _inside(coverage, edge, counting.choke_px)[own] / np.float32(255)
    ink = {
        plane: _amount(tones[own], white if is_white(plane) else film, counting.curves[plane])
        for plane, tones in zip(part.inks, part.planes, strict=True)
    }
    return FilmSums(artwork, float(film.sum(dtype=np.float64)), ink)


def _none(inks: tuple[str, ...]) -> FilmSums:
    return FilmSums(0.0, 0.0, dict.fromkeys(inks, 0.0))


@compiled
def _amount(tones: Bytes, shares: Reals, curve: Floats) -> float:
    """Amounts (256,) of tones (h, w), each times the share (h, w) of its pixel that it lies on, added up."""
    total = 0.0
    for y in range(tones.shape[0]):
        row = 0.0
        for x in range(tones.shape[1]):
            row += curve[tones[y, x]] * shares[y, x]
        total += row
    return total


def _shares(coverage: Bytes, edge: Bytes, islands: Floats) -> Reals:
    """The share of each pixel (h, w), 0 to 1, that is film, or white, by the tone of coverage (256,); edges are not screened."""
    even = coverage.astype(np.float32) / np.float32(255)
    return np.where(edge > 0, even, islands.astype(np.float32)[coverage])


def _inside(coverage: Bytes, edge: Bytes, choke_px: tuple[float, float]) -> Bytes:
    """255 further than the choke from where film ends, 0 nearer (h, w); parts of a pixel are the mean of the whole ones about it.

    So a line hardly wider than twice the choke may keep a pixel's part too much.
    """
    if min(choke_px) <= 0:
        return np.full_like(coverage, 255)
    ending, down = np.where(edge > 0, _where(coverage >= _HALF), _where(coverage > 0)), choke_px[1]
    part = down - np.floor(down)
    discs = (disc((steps * choke_px[0] / down, steps)) for steps in (math.floor(down), math.ceil(down)))
    less, more = (_eroded(ending, mask(by).view(np.uint8)) for by in discs)
    return np.asarray(cv2.addWeighted(less, 1 - part, more, part, 0), np.uint8)


def _edge(coverage: Bytes) -> Bytes:
    """Above 0 where an edge goes from nothing to full (h, w): near what is full, and near what is bare."""
    near = np.ones((2 * _NEAR_PX + 1, 2 * _NEAR_PX + 1), np.uint8)
    near_full = cv2.dilate(_where(coverage == 255), near)  # noqa: PLR2004
    return np.asarray(cv2.dilate(cv2.subtract(near_full, _eroded(_where(coverage > 0), near)), near), np.uint8)


def _where(is_so: NDArray[np.bool_]) -> Bytes:
    return is_so.view(np.uint8) * np.uint8(255)


def _eroded(mask: Bytes, shape: Bytes) -> Bytes:
    """What of a mask (h, w), 0 or 255, a shape fits in; outside it is bare."""
    return np.asarray(cv2.erode(mask, shape, borderType=cv2.BORDER_CONSTANT, borderValue=(0,)), np.uint8)
