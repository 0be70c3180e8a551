"""Shapes to cut around, and the exact line at a distance around them as shapely makes it."""

from collections.abc import Iterable

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from scipy import ndimage
from scipy.spatial import cKDTree

ALL = ("blob", "islands", "ring", "hairlines", "lettering", "specks")


def shape(name: str, *, side: int = 260, seed: int = 1) -> NDArray[np.uint8]:
    """A coverage plane side×side, 0 or 255."""
    rng = np.random.default_rng(seed)
    plane = np.zeros((side, side), np.uint8)
    y, x = np.mgrid[0:side, 0:side] / side
    match name:
        case "blob" | "islands":
            field = ndimage.gaussian_filter(rng.random((side, side)), side / (14 if name == "blob" else 40))
            plane[field > np.quantile(field, 0.55 if name == "blob" else 0.8)] = 255
        case "ring":
            across = np.hypot(y - 0.52, x - 0.47)
            plane[(across < 0.44) & (across > 0.36) | (across < 0.05)] = 255
        case "hairlines":
            for end in rng.integers(side // 10, side * 9 // 10, (6, 4)).tolist():
                cv2.line(plane, tuple(end[:2]), tuple(end[2:]), 255, 1)
        case "lettering":
            cv2.putText(plane, "Rg&5", (side // 20, side // 2), cv2.FONT_HERSHEY_TRIPLEX, side / 130, 255, 2)
            cv2.putText(plane, "film", (side // 8, side * 5 // 6), cv2.FONT_HERSHEY_SCRIPT_COMPLEX, side / 120, 255, 3)
        case "specks":
            plane[rng.integers(0, side, 60), rng.integers(0, side, 60)] = 255
    return plane


def smoothed(plane: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The same with edges smoothed as drawing programs do: each pixel the mean of 3 × 3 finer ones, a part of a pixel on.

    Specks that are nowhere full are left out: they are no edges but tones, and a screen says whether a dot falls there.
    """
    fine = cv2.resize(plane, None, fx=3, fy=3, interpolation=cv2.INTER_LINEAR)
    moved = np.pad(fine, ((1, 0), (2, 0)), mode="edge")[:-1, :-2]
    sharp = np.where(moved > 127, 255, 0).astype(np.float32)
    mean = np.rint(cv2.resize(sharp, plane.shape[::-1], interpolation=cv2.INTER_AREA)).astype(np.uint8)
    parts, count = ndimage.label(mean, np.ones((3, 3)))
    fullest = ndimage.maximum(mean, parts, np.arange(count + 1))
    return np.where(fullest[parts] == 255, mean, 0).astype(np.uint8)


def outside_of(film: NDArray[np.bool_], *, pixel_mm: tuple[float, float], offset_mm: float) -> shapely.Geometry:
    """All within an offset of film pixels (rectangles), holes filled: shapely's buffer, 32 points a quarter."""
    steps = np.diff(np.pad(film, ((0, 0), (1, 1))).astype(np.int8), axis=1)
    rows, starts = np.nonzero(steps == 1)
    _, ends = np.nonzero(steps == -1)
    width, height = pixel_mm
    union = shapely.union_all(shapely.box(starts * width, rows * height, ends * width, (rows + 1) * height))
    return filled(shapely.buffer(union, offset_mm, quad_segs=32))


def filled(area: shapely.Geometry) -> shapely.Geometry:
    """The area without holes."""
    return shapely.union_all([shapely.Polygon(part.exterior) for part in shapely.get_parts(area)])


def area_of(rings: Iterable[NDArray[np.float64]]) -> shapely.Geometry:
    """What rings enclose; each must be simple, and none may touch another."""
    parts = shapely.multipolygons([shapely.Polygon(ring) for ring in rings])
    assert parts.is_valid
    return parts


def apart(one: shapely.Geometry, other: shapely.Geometry) -> float:
    """Hausdorff distance between two areas' boundaries, both ways, from points every 0.01 mm."""
    points, others = (shapely.get_coordinates(shapely.segmentize(each.boundary, 0.01)) for each in (one, other))
    return float(max(cKDTree(others).query(points)[0].max(), cKDTree(points).query(others)[0].max()))
