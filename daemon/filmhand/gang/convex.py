"""A polygon as few convex parts: its triangles, merged across each inner edge that is not needed (Hertel and Mehlhorn 1983)."""

from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.polygon import orient

_FLAT: Final = 1e-9

Ring = list[tuple[float, float]]


def convex_parts(ring: NDArray[np.float64]) -> list[NDArray[np.float64]]:
    """Convex rings n×2 float64, counter-clockwise where y grows upward, that fill a simple ring n×2 float64."""
    triangles = shapely.get_parts(shapely.constrained_delaunay_triangles(Polygon(ring)))
    parts: list[Ring] = [list(orient(triangle).exterior.coords)[:-1] for triangle in triangles]
    done: list[Ring] = []
    while parts:
        part = parts.pop()
        found = next(((place, merged) for place, other in enumerate(parts) if (merged := _merged(part, other)) is not None), None)
        if found is None:
            done.append(part)
        else:
            parts[found[0]] = found[1]
    return [np.array(part) for part in done]


def _merged(one: Ring, other: Ring) -> Ring | None:
    """Two rings that share an edge as one; None where they share none, or it would not be convex."""
    for i, start in enumerate(one):
        end = one[(i + 1) % len(one)]
        if end not in other:
            continue
        j = other.index(end)
        if other[(j + 1) % len(other)] != start:
            continue
        ring = one[i + 1 :] + one[: i + 1]  # from `end` round to `start`
        ring = ring + [other[(j + k) % len(other)] for k in range(2, len(other))]
        return ring if _is_convex(ring) else None
    return None


def _is_convex(ring: Ring) -> bool:
    points = np.array(ring)
    ahead = np.roll(points, -1, axis=0) - points
    after = np.roll(ahead, -1, axis=0)
    turns = ahead[:, 0] * after[:, 1] - ahead[:, 1] * after[:, 0]
    return bool(np.all(turns >= -_FLAT * np.hypot(*ahead.T) * np.hypot(*after.T)))
