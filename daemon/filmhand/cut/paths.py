"""Cut paths where copies lie on the film: mirrored, turned and placed as composing lays the copies themselves."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import shapely
from numpy.typing import NDArray

from filmhand import units
from filmhand.cut.contour import Ring
from filmhand.gang.sheet import Placement, Sheet
from filmhand.gang.turn import turned, turned_box
from filmhand.printer import Printer

_TOUCHING_MM: Final = 0.05
"""How far the edge of each of two paths may lie in the other: paths that touch do so within this."""

Key = tuple[str, int]
"""A job, and the piece of its design (0: all of it)."""


@dataclass(frozen=True, eq=False)
class CutPath:
    """Where one copy, or one piece of it, is cut out of the film: rings in mm of the delivered TIFF."""

    job: str
    copy: int
    part: int
    rings: tuple[Ring, ...]


def paths_on_sheet(
    sheet: Sheet, rings: Mapping[Key, tuple[Ring, ...]], *, sizes: Mapping[Key, tuple[float, float]], printer: Printer
) -> tuple[CutPath, ...]:
    """The path of every copy that has film, in the order to cut: from the film's start on, a path inside another before it.

    `rings`: of the upright design as it reads, mm of its own box; `sizes`: width and height of that box, mm.
    """
    places = sorted(sheet.placements, key=lambda place: (place.y_mm, place.x_mm, place.job, place.copy, place.part))
    laid = [_laid(place, rings[place.job, place.part], size=sizes[place.job, place.part], printer=printer) for place in places]
    return _inner_first([path for path in laid if path.rings])


def crossing(paths: Sequence[CutPath]) -> tuple[tuple[CutPath, CutPath], ...]:
    """Pairs of paths of a sheet that cross; none where all is well."""
    areas = _areas(paths)
    inner = shapely.buffer(areas, -_TOUCHING_MM)
    pairs = sorted((int(a), int(b)) for a, b in shapely.STRtree(inner).query(inner, predicate="intersects").T if a < b)
    return tuple(
        (paths[one], paths[other])
        for one, other in pairs
        if not (areas[one].contains(inner[other]) or areas[other].contains(inner[one]))
    )


def crossings(paths: Sequence[CutPath]) -> tuple[str, ...]:
    """The same in words, a sentence a pair."""
    return tuple(f"The cut paths of {_name(one)} and of {_name(other)} cross" for one, other in crossing(paths))


def _name(path: CutPath) -> str:
    piece = f"piece {path.part} of " if path.part else ""
    return f"{piece}copy {path.copy} of {path.job}"


def _laid(place: Placement, rings: tuple[Ring, ...], *, size: tuple[float, float], printer: Printer) -> CutPath:
    """A design's rings where a placement lays it. Copies begin and end on whole dots, so the rings do."""
    width, height = size
    left, top, *box = turned_box(width, height, place.rotation_deg)
    start_mm, scale = _on_dots(place, (box[0], box[1]), printer.resolution)
    laid = []
    for ring in rings:
        seen = np.stack([width - ring[:, 0], ring[:, 1]], axis=1)[::-1] if printer.mirror else ring
        laid.append((turned(seen, place.rotation_deg) - (left, top)) * scale + start_mm)
    return CutPath(place.job, place.copy, place.part, tuple(laid))


def _on_dots(
    place: Placement, box: tuple[float, float], resolution: tuple[int, int]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Where the first dot of a copy lies, mm, and how much the copy is stretched to end with a whole one."""
    starts, scales = [], []
    for at, side, dpi in zip((place.x_mm, place.y_mm), box, resolution, strict=True):
        starts.append(units.px_to_mm(round(units.mm_to_px(at, dpi)), dpi))
        scales.append(units.px_to_mm(max(1, round(units.mm_to_px(side, dpi))), dpi) / side)
    return np.array(starts), np.array(scales)


def _inner_first(paths: list[CutPath]) -> tuple[CutPath, ...]:
    """The paths in their order, but those inside another (innermost first) before it: film that is cut out lies loose."""
    areas = _areas(paths)
    insides, outsides = shapely.STRtree(areas).query(areas, predicate="within")
    around: list[list[int]] = [[] for _ in paths]
    for inside, outside in zip(insides.tolist(), outsides.tolist(), strict=True):
        if inside != outside:
            around[inside].append(outside)
    depth = [len(others) for others in around]
    outermost = [next((other for other in others if depth[other] == 0), i) for i, others in enumerate(around)]
    return tuple(paths[i] for i in sorted(range(len(paths)), key=lambda i: (outermost[i], -depth[i], i)))


def _areas(paths: Sequence[CutPath]) -> NDArray[np.object_]:
    """What each path cuts out."""
    return np.array(
        [shapely.multipolygons(shapely.polygons([shapely.linearrings(r) for r in path.rings])) for path in paths], object
    )
