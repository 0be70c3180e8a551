"""The boundary of a gamut: the most chroma at each lightness and hue.

The gamut's surface, as triangles, is cut by planes of equal lightness; in each, rays leave the gray axis in all directions, and
the last triangle a ray meets is the boundary (cutting and segment maxima: R. Balasubramanian and E. Dalal 1997, "A method for
quantifying the color gamut of an output device", SPIE 3018; J. Morovič and M. R. Luo 2000, "Calculating medium and image gamut
boundaries for gamut mapping", Color Research and Application 25, 394 to 401). Lightness, chroma and hue are gamut_space.py's.

It ends at the darkest gray: what is darker still, as one ink with black, counts as outside. Measured on eight published offset
conditions, patches lose ΔE00 2.3 by it at worst; without black ink, whose darkest gray is light, deep blues lose more.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour import srgb
from filmhand.colour.black_point import compensated
from filmhand.colour.compiled import compiled
from filmhand.colour.gamut_space import TURN, lab_from_xyz, lch_from_xyz
from filmhand.colour.gamut_surface import surface
from filmhand.colour.model import InkModel
from filmhand.colour.sectors import sectors

Floats = NDArray[np.float64]
Places = NDArray[np.int64]

_ROWS: Final = 257
_HUES: Final = 720
_GRAY: Final = 0.05
"""Chroma up to which a colour of the surface is one of the gray axis."""
_LEAST_RANGE: Final = 20.0
"""Lightness that grays must span for the gray axis to count as printable at all."""
_ROUNDING: Final = 1e-9


@dataclass(frozen=True, eq=False)
class GamutBoundary:
    """`chroma` (rows, hues): the most at even steps of lightness from `darkest` to `lightest` gray, and of hue from 0° on."""

    darkest: float
    lightest: float
    chroma: Floats

    @property
    def lightness(self) -> Floats:
        """Of each row (rows,)."""
        return np.linspace(self.darkest, self.lightest, len(self.chroma))

    @property
    def hue_step(self) -> float:
        """Degrees from one column to the next."""
        return float(TURN / self.chroma.shape[1])

    @cached_property
    def cusps(self) -> Floats:
        """Lightness and chroma (hues, 2) of each hue's colour of most chroma."""
        row = self.chroma.argmax(axis=0)
        return np.stack([self.lightness[row], self.chroma.max(axis=0)], axis=-1)

    @property
    def volume(self) -> float:
        """In cubic units: about cubic CIELAB units."""
        disc = (self.chroma**2).sum(axis=1) * np.radians(self.hue_step) / 2
        return float(np.trapezoid(disc, self.lightness))

    def most_chroma(self, lightness: Floats, hue: Floats) -> Floats:
        """(...) at lightness (...) and hue (...), degrees; 0 where no gray is as light or as dark."""
        rows, hues = self.chroma.shape
        row = (lightness - self.darkest) / (self.lightest - self.darkest) * (rows - 1)
        column = np.asarray(hue) / self.hue_step
        r, c = np.clip(row.astype(int), 0, rows - 2), np.floor(column).astype(int)
        down, along = row - r, column - c
        left, right = c % hues, (c + 1) % hues
        upper = self.chroma[r, left] * (1 - along) + self.chroma[r, right] * along
        lower = self.chroma[r + 1, left] * (1 - along) + self.chroma[r + 1, right] * along
        inside = (row >= -_ROUNDING) & (row <= rows - 1 + _ROUNDING)
        return np.where(inside, upper * (1 - down) + lower * down, 0.0)

    def holds(self, xyz: Floats, *, tolerance: float = 0.0) -> NDArray[np.bool_]:
        """Whether XYZ (..., 3) are in the gamut, or no more than `tolerance` off in lightness and as much in chroma."""
        L, C, h = np.moveaxis(lch_from_xyz(xyz), -1, 0)
        nearby = [np.clip(L + way * tolerance, self.darkest, self.lightest) for way in (-1, 0, 1)]
        held = [(np.abs(L - at) <= tolerance + _ROUNDING) & (self.most_chroma(at, h) + tolerance >= C) for at in nearby]
        return np.asarray(held[0] | held[1] | held[2])


def printable_boundary(model: InkModel, *, limit: float) -> GamutBoundary:
    """Of what a model's inks can print within an ink limit (1 = one full ink), sector by sector of hue. Costs half a second."""
    places = [[model.inks.index(ink) for ink in sector] for sector in sectors(model.inks)]
    return boundary(model.xyz, together=places, inks=len(model.inks), limit=limit)


def srgb_boundary(*, black: Floats) -> GamutBoundary:
    """Of sRGB with its black moved to the XYZ `black` (3,) by black point compensation; black 0 leaves sRGB as it is."""

    def colour_of(rgb: Floats) -> Floats:
        return compensated(srgb.decode(rgb) @ srgb.TO_XYZ.T, black=np.zeros(3), to=black)

    return boundary(colour_of, together=[(0, 1, 2)], inks=3, limit=3.0)


def boundary(
    colour_of: Callable[[Floats], Floats], *, together: Sequence[Sequence[int]], inks: int, limit: float
) -> GamutBoundary:
    """Of the colours XYZ (p, 3) of amounts (p, inks), 0 to 1, that add up to `limit` at most.

    `together`: sets of places of inks that may lie on one another. Where the grays within reach span next to nothing, as with
    one coloured ink alone, the darkest colour counts as the darkest gray.
    """
    amounts, triangles = surface(together, inks=inks, limit=limit)
    return enclosing(lab_from_xyz(colour_of(amounts)), triangles)


def enclosing(points: Floats, triangles: Places) -> GamutBoundary:
    """Of a surface: lightness, a and b (p, 3) and triangles (t, 3) of rows of them."""
    grays = _grays(points, triangles)
    if np.ptp(grays) < _LEAST_RANGE:
        grays = points[:, 0]
    darkest, lightest = float(grays.min()), float(grays.max())
    chroma = np.zeros((_ROWS, _HUES))
    _cut(np.ascontiguousarray(points), triangles, np.linspace(darkest, lightest, _ROWS), chroma)
    chroma.setflags(write=False)
    return GamutBoundary(darkest, lightest, chroma)


def _grays(points: Floats, triangles: Places) -> Floats:
    """Lightness (m,) wherever the surface meets the gray axis."""
    corners = points[triangles]
    nearby = points[np.hypot(points[:, 1], points[:, 2]) < _GRAY, 0]
    one, two, three = (corners[:, i, 1:] for i in range(3))
    shares = np.stack([_cross(two, three), _cross(three, one), _cross(one, two)], axis=-1)
    total = shares.sum(axis=1)
    inside = (total != 0) & ((shares * np.sign(total)[:, None]).min(axis=1) >= 0)
    hits = (corners[inside, :, 0] * shares[inside]).sum(axis=1) / total[inside]
    return np.concatenate([nearby, hits, points[:1, 0]])


def _cross(first: Floats, second: Floats) -> Floats:
    return np.asarray(first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0])


@compiled
def _cut(points: Floats, triangles: Places, lightness: Floats, chroma: Floats) -> None:
    """Raise `chroma` (rows, hues) to where rays meet the triangles, in the plane of each lightness (rows,)."""
    rows = len(lightness)
    start, pitch = lightness[0], (lightness[-1] - lightness[0]) / (rows - 1)
    ends = np.empty((2, 2))
    for t in range(len(triangles)):
        corner = triangles[t]
        low = min(points[corner[0], 0], points[corner[1], 0], points[corner[2], 0])
        high = max(points[corner[0], 0], points[corner[1], 0], points[corner[2], 0])
        first = max(int(np.floor((low - start) / pitch)), 0)
        last = min(int(np.ceil((high - start) / pitch)), rows - 1)
        for row in range(first, last + 1):
            crossed = 0
            for i in range(3):
                here, there = points[corner[i]], points[corner[(i + 1) % 3]]
                if (here[0] <= lightness[row]) != (there[0] <= lightness[row]):
                    share = (lightness[row] - here[0]) / (there[0] - here[0])
                    ends[crossed, 0] = here[1] + share * (there[1] - here[1])
                    ends[crossed, 1] = here[2] + share * (there[2] - here[2])
                    crossed += 1
            if crossed == 2:  # noqa: PLR2004  # a plane meets two sides of a triangle or none
                _meet(ends[0], ends[1], chroma[row])


@compiled
def _meet(one: Floats, other: Floats, chroma: Floats) -> None:
    """Raise `chroma` (hues,) to where the rays meet the line between two points (a, b)."""
    swept = one[0] * other[1] - one[1] * other[0]
    if swept < 0:
        one, other, swept = other, one, -swept
    step = 2 * np.pi / len(chroma)
    begin = np.arctan2(one[1], one[0])
    end = begin + np.arctan2(swept, one[0] * other[0] + one[1] * other[1])
    for column in range(int(np.ceil(begin / step - _ROUNDING)), int(np.floor(end / step + _ROUNDING)) + 1):
        slant = np.cos(column * step) * (other[1] - one[1]) - np.sin(column * step) * (other[0] - one[0])
        if slant > _ROUNDING:
            place = column % len(chroma)
            chroma[place] = max(chroma[place], swept / slant)
