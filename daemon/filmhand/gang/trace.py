"""One polygon around all set cells of a mask: small gaps closed, separate parts joined by thin bridges, holes filled."""

from typing import Final

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.polygon import orient
from shapely.ops import nearest_points

from filmhand.gang.outward import simplified_outward

_CLOSED_MM: Final = 3.0
"""Radius of the disc that closes gaps and bays: a channel narrower than twice this takes no other copy. No source."""
_SMALLEST_SHARE: Final = 50
_MOST_PARTS: Final = 40
_BRIDGE_MM: Final = 0.2
"""Half the width of a bridge between parts. It prints nothing; it only keeps other copies from lying between them."""
_POINTS: Final = 60
_MOST_ADDED: Final = 0.02
"""What simplification may add to a polygon's area, as a share of its convex hull's."""


def ring_around(mask: NDArray[np.bool_], *, width_mm: float, height_mm: float) -> NDArray[np.float64]:
    """A simple ring n×2 float64 in mm (x right, y down) around every set cell of a mask: rows × columns bool, True = film here.

    The mask covers the box width_mm × height_mm, and the ring does not leave that box. At least one cell is set.
    """
    cell = np.array([width_mm / mask.shape[1], height_mm / mask.shape[0]])
    radius = _radius(width_mm, height_mm) / float(cell.min())
    parts = _parts(_closed(mask, radius))
    while len(parts) > _MOST_PARTS:
        radius *= 2
        parts = _parts(_closed(mask, radius))
    whole = _joined(parts, float(_BRIDGE_MM / cell.min()))
    whole = shapely.intersection(whole, shapely.box(0, 0, mask.shape[1], mask.shape[0]))
    exact = Polygon(shapely.get_coordinates(whole.exterior) * cell)
    return _fewer_points(exact, width_mm=width_mm, height_mm=height_mm, step=float(cell.max()))


def closed(mask: NDArray[np.bool_], *, width_mm: float, height_mm: float) -> NDArray[np.bool_]:
    """A mask over the box width_mm × height_mm with gaps closed that take no other copy; never less than the mask."""
    return _closed(mask, _radius(width_mm, height_mm) / min(width_mm / mask.shape[1], height_mm / mask.shape[0]))


def _radius(width_mm: float, height_mm: float) -> float:
    return min(_CLOSED_MM, max(width_mm, height_mm) / _SMALLEST_SHARE)


def _closed(mask: NDArray[np.bool_], radius: float) -> NDArray[np.bool_]:
    """Morphological closing by a disc (radius in cells), with exact Euclidean distances; never less than the mask."""
    pad = int(radius) + 2
    padded = np.pad(mask, pad)
    near = cv2.distanceTransform((~padded).view(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE) <= radius
    inner = cv2.distanceTransform(near.view(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE) > radius
    return inner[pad:-pad, pad:-pad] | mask


def _parts(mask: NDArray[np.bool_]) -> list[Polygon]:
    """The mask's separate parts in cells, holes filled, parts inside holes swallowed; edges lie on the cells' own edges."""
    steps = np.diff(np.pad(mask, ((0, 0), (1, 1))).astype(np.int8), axis=1)
    rows, starts = np.nonzero(steps == 1)
    _, ends = np.nonzero(steps == -1)
    union = shapely.union_all(shapely.box(starts, rows, ends, rows + 1))
    filled = shapely.union_all([Polygon(part.exterior) for part in shapely.get_parts(union)])
    return [Polygon(part.exterior) for part in shapely.get_parts(filled)]


def _joined(parts: list[Polygon], half_width: float) -> Polygon:
    """One polygon of all parts: each next part, the nearest first, is tied to the rest along their nearest points."""
    order = sorted(parts, key=lambda part: -part.area)
    whole, waiting = order[0], order[1:]
    while waiting:
        distances = shapely.distance(whole, waiting)
        part = waiting.pop(int(np.argmin(distances)))
        bridge = shapely.LineString(nearest_points(whole, part)).buffer(half_width, cap_style="square")
        union = shapely.union_all([whole, part, bridge])
        whole = Polygon(max(shapely.get_parts(union), key=lambda piece: piece.area).exterior)
    return whole


def _fewer_points(exact: Polygon, *, width_mm: float, height_mm: float, step: float) -> NDArray[np.float64]:
    """A ring around `exact` with about _POINTS corners; that of `exact` itself should rounding spoil the simplified one."""
    ring: NDArray[np.float64] = shapely.get_coordinates(orient(exact).exterior)[:-1]
    simpler = simplified_outward(
        ring,
        bounds=(width_mm, height_mm),
        step=step,
        limit=_POINTS,
        most_area=_MOST_ADDED * exact.convex_hull.area,
    )
    polygon = Polygon(simpler)
    if polygon.is_valid and polygon.buffer(1e-6).covers(exact):
        return simpler
    return ring
