"""Bare regions inside a design's film: rings and frames that are large enough for other art."""

from typing import Final

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon
from shapely.ops import nearest_points

from filmhand.gang.trace import closed

_LEAST_MM: Final = 15.0
"""A hole that takes no disc of this diameter takes no other art with a gap around it. No source."""
_CLOSER: Final = 0.95
_SLIT_MM: Final = 0.01
"""Half the width of a cut from a hole's edge to art in its middle: a tenth of the finest cell."""


def hollows(mask: NDArray[np.bool_], *, width_mm: float, height_mm: float) -> list[NDArray[np.float64]]:
    """Simple rings n×2 float64, mm, largest first, inside which a mask's box is bare.

    `mask`: rows × columns bool over the box width_mm × height_mm, True = film. A region is a hole where closing small gaps shuts
    it off from the box's edge. Art in a hole's middle is left out of it by a cut to its edge; `without_slits` mends the cut.
    """
    cell = np.array([width_mm / mask.shape[1], height_mm / mask.shape[0]])
    bare = np.pad(~closed(mask, width_mm=width_mm, height_mm=height_mm), 1, constant_values=True).view(np.uint8)
    distance = cv2.distanceTransform(bare, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    count, labels = cv2.connectedComponents(bare, connectivity=4)
    widest = np.zeros(count, np.float32)
    np.maximum.at(widest, labels.ravel().astype(np.intp), distance.ravel().astype(np.float32))
    outside = labels[0, 0]
    wide = [n for n in range(1, count) if n != outside and widest[n] * cell.min() >= _LEAST_MM / 2]
    rings = [ring for n in wide for ring in _rings(labels[1:-1, 1:-1] == n, cell)]
    return sorted(rings, key=lambda ring: -Polygon(ring).area)


def without_slits(ring: NDArray[np.float64]) -> Polygon | MultiPolygon:
    """The region of a ring made by `hollows`, the cuts to art in its middle mended."""
    return Polygon(ring).buffer(2 * _SLIT_MM, join_style="mitre").buffer(-2 * _SLIT_MM, join_style="mitre")


def _rings(region: NDArray[np.bool_], cell: NDArray[np.float64]) -> list[NDArray[np.float64]]:
    """A region's rings, a cell inside its edge and with fewer corners."""
    steps = np.diff(np.pad(region, ((0, 0), (1, 1))).astype(np.int8), axis=1)
    rows, starts = np.nonzero(steps == 1)
    _, ends = np.nonzero(steps == -1)
    boxes = shapely.box(starts * cell[0], rows * cell[1], ends * cell[0], (rows + 1) * cell[1])
    whole = shapely.union_all(boxes)
    fewer = whole.buffer(-cell.max()).simplify(_CLOSER * cell.max())
    parts = [
        part
        for part in shapely.get_parts(fewer if whole.covers(fewer) else whole)
        if shapely.maximum_inscribed_circle(part).length * 2 >= _LEAST_MM
    ]
    return [shapely.get_coordinates(_cut_open(part).exterior)[:-1] for part in parts]


def _cut_open(region: Polygon) -> Polygon:
    """A region without its inner rings, each tied to the outer edge by a thin cut."""
    while region.interiors:
        inner = min(region.interiors, key=region.exterior.distance)
        cut = shapely.LineString(nearest_points(region.exterior, inner)).buffer(_SLIT_MM, cap_style="square")
        taken = shapely.difference(region, shapely.union(cut, Polygon(inner)))
        region = max(shapely.get_parts(taken), key=lambda part: part.area)
    return region
