"""One path a copy: parts of a design that lie apart are tied by bridges of bare film, so that it is pressed in one piece."""

from typing import Final

import numpy as np
import shapely
from shapely import LineString, Polygon
from shapely.ops import nearest_points

from filmhand.cut.contour import Ring

_LEAST_MM: Final = 1.0
"""Half the width of a bridge where the offset is less: film narrower than this tears. No source."""


def joined(rings: tuple[Ring, ...], *, offset_mm: float) -> tuple[Ring, ...]:
    """The rings as one where there are several: the largest, tied to the nearest again and again by bridges two offsets wide.

    `rings`: n×2 float64 each, mm, that neither cross nor lie in one another; so is what comes back.
    """
    if len(rings) < 2:  # noqa: PLR2004 -- nothing to tie
        return rings
    waiting = sorted((Polygon(ring) for ring in rings), key=lambda part: -part.area)
    whole = waiting.pop(0)
    while waiting:
        part = waiting.pop(int(np.argmin(shapely.distance(whole, waiting))))
        bridge = LineString(nearest_points(whole, part)).buffer(max(offset_mm, _LEAST_MM), cap_style="square")
        union = shapely.union_all([whole, part, bridge])
        whole = Polygon(max(shapely.get_parts(union), key=lambda piece: piece.area).exterior)
    ring: Ring = shapely.get_coordinates(shapely.normalize(whole).exterior)[:-1]
    return (ring,)
