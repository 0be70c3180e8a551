"""Mending: film too narrow to hold its powder widened to the rule's width, at the printed size, in its own colour."""

import math
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.colour.compiled import compiled
from filmhand.preflight.finding import Finding, Severity
from filmhand.preflight.grid import Part
from filmhand.preflight.places import Places
from filmhand.preflight.thickness import Ridge, narrow_ridges, narrowest_mm
from filmhand.rules import Rule
from filmhand.words import Phrase

NAME: Final = "thin_line"

_SPARE_MM: Final = 0.02
_SPARE_PX: Final = 0.1
"""Widened by so much more, in mm and in pixels of the artwork: lines are measured to about so much; none is to be found again."""

_BAND_ROWS: Final = 512

_COLOURED: Final = 128
"""From this alpha on a pixel's colour is the line's own; less may be mixed with what it was drawn on."""

_SEEN: Final = Phrase("Lines down to {narrowest:.2f} mm wide were thickened to {goal:.2g} mm, because this shop's rule says so.")
_ADVICE: Final = Phrase("Look at fine lettering on the proof: what is thickened may close up.")

Reals = NDArray[np.float32]
Pixels = NDArray[np.uint8]


def thickened(artwork: Artwork, size: PrintedSize, *, rule: Rule) -> Artwork:
    """The artwork with lines as wide as the rule's `mend.lines`, which is said; as it is where there is nothing to widen.

    Where a widened line would be cut, the canvas grows; it is still printed at this size.
    """
    goal_mm = rule.mend.lines
    if not goal_mm:
        return artwork
    ridges = list(narrow_ridges(artwork, size, part=Part.FILM, limit_mm=goal_mm))
    narrowest = narrowest_mm(ridges)
    if narrowest is None:
        return artwork
    spare_mm = _SPARE_MM + _SPARE_PX * size.width_mm / artwork.width_px
    pixels, places = _drawn(artwork.pixels, _Pen.of(ridges, artwork, size, (goal_mm + spare_mm) / 2))
    message = _SEEN(narrowest=narrowest, goal=goal_mm)
    finding = Finding(NAME, Severity.WARN, message, _ADVICE(), narrowest, goal_mm, "mm", places.boxes())
    return replace(artwork, pixels=pixels, findings=(*artwork.findings, finding))


@dataclass(frozen=True)
class _Pen:
    """Where a round pen goes over the canvas: n points (y, x) in its pixels, by row, and in the artwork's.

    `radius_px`: down and across. `margins`: pixels that the canvas grows by at its top, bottom, left and right.
    """

    at_px: Reals
    source_px: Reals
    radius_px: tuple[float, float]
    margins: tuple[int, int, int, int]

    @classmethod
    def of(cls, ridges: list[Ridge], artwork: Artwork, size: PrintedSize, radius_mm: float) -> "_Pen":
        """The pen on the ridges. Growing the canvas makes its pixels smaller, which its margins take into account."""
        y_mm = np.concatenate([ridge.y_mm for ridge in ridges])
        x_mm = np.concatenate([ridge.x_mm for ridge in ridges])
        order = np.argsort(y_mm, kind="stable")
        y, down, top, bottom = _along(y_mm[order], artwork.height_px, size.height_mm, radius_mm)
        x, across, left, right = _along(x_mm[order], artwork.width_px, size.width_mm, radius_mm)
        source = np.stack((y, x), axis=-1)
        at = source + np.array((top, left), np.float32)
        return cls(at, source, (radius_mm * down, radius_mm * across), (top, bottom, left, right))


def _along(places_mm: Reals, pixels: int, length_mm: float, radius_mm: float) -> tuple[Reals, float, int, int]:
    """Along one direction: places in pixels of the artwork, canvas pixels a millimetre, and the margins before and behind."""
    places = (places_mm * (pixels / length_mm)).astype(np.float32)
    reach = radius_mm * pixels / length_mm * (1 + 4 * radius_mm / length_mm) + 1
    before = max(0, math.ceil(reach - float(places.min())))
    behind = max(0, math.ceil(float(places.max()) + reach - pixels))
    return places, (pixels + before + behind) / length_mm, before, behind


def _drawn(pixels: Pixels, pen: _Pen) -> tuple[Pixels, Places]:
    """Pixels (h×w×4) with the pen's line over them, and where it changed them."""
    top, bottom, left, right = pen.margins
    result = np.pad(pixels, ((top, bottom), (left, right), (0, 0)))
    height, width = result.shape[:2]
    places = Places(height, width)
    colours = _colours(pixels, pen.source_px)
    for first in range(0, height, _BAND_ROWS):
        band = result[first : first + _BAND_ROWS]
        low, high = np.searchsorted(pen.at_px[:, 0], (first - pen.radius_px[0] - 1, first + len(band) + pen.radius_px[0] + 1))
        if low < high:
            distance, owner = _nearest(pen.at_px[low:high], np.float32(first), band.shape[:2], pen.radius_px)
            places.add(_inked(band, distance, colours[low:high], owner, min(pen.radius_px)), first, 0)
    return result, places


def _inked(band: Pixels, distance: Reals, colours: Pixels, owner: NDArray[np.int32], radius_px: float) -> NDArray[np.bool_]:
    """Draw into a band, in place, where that makes it more solid; returns where it did. `distance`: in radii."""
    alpha = np.round(255 * np.clip((1 - distance) * radius_px + 0.5, 0, 1)).astype(np.uint8)
    changed = alpha > band[..., 3]
    bare = changed & (band[..., 3] < _COLOURED)
    band[bare, :3] = colours[owner[bare]]
    band[changed, 3] = alpha[changed]
    return np.asarray(changed)


def _colours(pixels: Pixels, places: Reals) -> Pixels:
    """The colour (n×3) of the most solid pixel next to each place (y, x)."""
    height, width = pixels.shape[:2]
    rows, columns = np.clip(places[:, 0].astype(np.intp), 0, height - 1), np.clip(places[:, 1].astype(np.intp), 0, width - 1)
    best_row, best_column = rows.copy(), columns.copy()
    for down in (-1, 0, 1):
        for across in (-1, 0, 1):
            row, column = np.clip(rows + down, 0, height - 1), np.clip(columns + across, 0, width - 1)
            better = pixels[row, column, 3] > pixels[best_row, best_column, 3]
            best_row, best_column = np.where(better, row, best_row), np.where(better, column, best_column)
    return np.asarray(pixels[best_row, best_column, :3])


@compiled
def _nearest(
    points: Reals, first_row: np.float32, shape: tuple[int, int], radius_px: tuple[float, float]
) -> tuple[Reals, NDArray[np.int32]]:
    """How far the middle of each pixel of a band (h×w) from a row on is from the nearest point, in radii; and which it is.

    Looked for only within a radius and a pixel; elsewhere the distance is infinite.
    """
    height, width = shape
    down, across = radius_px
    distance = np.full((height, width), np.inf, np.float32)
    owner = np.zeros((height, width), np.int32)
    for index in range(points.shape[0]):
        y, x = points[index, 0] - first_row, points[index, 1]
        for row in range(max(0, int(y - down - 1)), min(height, int(y + down + 2))):
            for column in range(max(0, int(x - across - 1)), min(width, int(x + across + 2))):
                away = math.hypot((row + 0.5 - y) / down, (column + 0.5 - x) / across)
                if away < distance[row, column]:
                    distance[row, column] = away
                    owner[row, column] = index
    return distance, owner
