"""The line at a distance around a picture's film, along which its copies are cut.

Half of the distance is measured from the pixels, which melts specks and steps of pixels into few smooth lines; the other half is
added to these lines as curves. Growing by two discs one after the other is growing by one as wide as both (Serra, "Image
Analysis and Mathematical Morphology", 1982), so little of the grid is seen in the sharp inner corners of the result.
"""

from collections.abc import Iterable
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from filmhand.cut.distance import Nodes, Raster, distances
from filmhand.cut.level import level_rings

Ring = NDArray[np.float64]
"""n×2 float64, mm, x right, y down: a closed line that does not cross itself; its first point is not repeated."""

_STEP_MM: Final = 0.05
_LEAST_MM: Final = 0.1
"""What is measured from the pixels at least, for offsets of next to nothing."""
_EXACTLY_MM: Final = 0.003
_SMOOTHLY_MM: Final = 0.02
"""How far points may be left out of the line half way, and of the line that is cut: a cutter runs smoother along fewer."""
_PER_QUARTER: Final = 16
"""Points in a quarter of a circle before any are left out: it then lies within 1.3 thousandths of its radius."""


def offset_rings(coverage: NDArray[np.uint8], *, width_mm: float, height_mm: float, offset_mm: float) -> tuple[Ring, ...]:
    """The outer boundaries of all that lies within `offset_mm` of a picture's film.

    `coverage`: h×w uint8, 0 = bare, anything else film, a pixel being a rectangle. Rings are in mm of the picture's own upright
    box, may reach outside it, and lie within 0.03 mm of the exact curve, in the tips of notches within 0.1 mm. Parts that are
    nearer to one another than two offsets share a ring. What lies inside another ring has none: it stays on the same piece of
    film. No rings where all is bare.
    """
    height, width = coverage.shape
    raster = Raster(width, height, (width_mm / width, height_mm / height))
    return rings_around((coverage,), raster, offset_mm=offset_mm)


def rings_around(bands: Iterable[NDArray[np.uint8]], raster: Raster, *, offset_mm: float) -> tuple[Ring, ...]:
    """The same of a picture that comes by bands of rows, k×width uint8 each, in order from the top."""
    half_way = max(offset_mm / 2, _LEAST_MM)
    step = min(_STEP_MM, half_way / 4)
    reach = half_way + 2 * step
    nodes = Nodes.around(raster, reach_mm=reach, step_mm=step)
    lines = level_rings(distances(bands, raster, nodes, reach_mm=reach), nodes, level_mm=half_way)
    if not lines:
        return ()
    near = shapely.simplify(shapely.polygons([shapely.linearrings(line) for line in lines]), _EXACTLY_MM)
    grown = shapely.buffer(near, offset_mm - half_way, quad_segs=_PER_QUARTER)
    exact = _filled(shapely.union_all(grown))
    smooth = _filled(shapely.simplify(exact, _SMOOTHLY_MM, preserve_topology=True))
    best = smooth if smooth.is_valid else exact
    return tuple(shapely.get_coordinates(part.exterior)[:-1] for part in shapely.get_parts(shapely.normalize(best)))


def _filled(area: shapely.Geometry) -> shapely.Geometry:
    """The area without its holes and what lies in them: a copy is cut around its outside."""
    parts = shapely.get_parts(area)
    return shapely.union_all(shapely.polygons(shapely.get_exterior_ring(parts[shapely.area(parts) > 0])))
