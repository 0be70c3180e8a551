"""Pictures and checks that the layout tests share."""

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import ndimage

from filmhand.gang.nest import Item
from filmhand.gang.outline import Outline, outline_of
from filmhand.gang.sheet import Placement


def blob(seed: int, *, side_px: int = 160) -> NDArray[np.uint8]:
    """A picture of one random lobed shape, h×w uint8, 255 = film, trimmed to it."""
    rng = np.random.default_rng(seed)
    angle = np.linspace(0, 2 * np.pi, 120, endpoint=False)
    radius = 1 + sum(rng.normal(0, 0.45 / k) * np.cos(k * angle + rng.uniform(0, 6.3)) for k in range(2, 7))
    radius = np.clip(radius, 0.2, None) * 0.48 * side_px / np.max(radius)
    points = side_px / 2 + np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=1)
    plane = np.zeros((side_px, side_px), np.uint8)
    cv2.fillPoly(plane, [points.round().astype(np.int32)], 255)
    rows, columns = np.nonzero(plane)
    return plane[rows.min() : rows.max() + 1, columns.min() : columns.max() + 1]


def disc() -> NDArray[np.uint8]:
    """A disc that fills its picture, 200×200 uint8."""
    y, x = np.mgrid[:200, :200] - 99.5
    return ((x**2 + y**2 <= 100**2) * 255).astype(np.uint8)


def flag() -> NDArray[np.uint8]:
    """A picture without any symmetry, 60×100 uint8: a pole at its left edge and a pennant at the pole's top."""
    plane = np.zeros((60, 100), np.uint8)
    plane[:, :6] = 255
    cv2.fillPoly(plane, [np.array([[6, 0], [99, 12], [6, 24]], np.int32)], 255)
    return plane


def items_of(pictures: dict[str, NDArray[np.uint8]], *, width_mm: float, copies: int) -> list[Item]:
    """Copies of pictures, all of one width, job by job."""
    outlines: dict[str, Outline] = {
        job: outline_of(plane, width_mm=width_mm, height_mm=width_mm * plane.shape[0] / plane.shape[1])
        for job, plane in pictures.items()
    }
    return [Item(job, copy, outline) for job, outline in outlines.items() for copy in range(1, copies + 1)]


def painted(
    placements: tuple[Placement, ...], pictures: dict[str, NDArray[np.uint8]], *, size_mm: tuple[float, float], px_mm: float
) -> NDArray[np.int32]:
    """The sheet as labels (h×w int32, 0 = bare film, n = the n-th copy): numpy.rot90 and OpenCV only, as a printer would see it.

    A pixel that two copies claim is -1.
    """
    sheet = np.zeros((round(size_mm[1] / px_mm), round(size_mm[0] / px_mm)), np.int32)
    for number, one in enumerate(placements, 1):
        turned = np.ascontiguousarray(np.rot90(pictures[one.job], round(one.rotation_deg / 90)))
        size = round(one.width_mm / px_mm), round(one.height_mm / px_mm)
        film = cv2.resize(turned, size, interpolation=cv2.INTER_NEAREST) > 0
        left, top = round(one.x_mm / px_mm), round(one.y_mm / px_mm)
        view = sheet[top : top + size[1], left : left + size[0]]
        view[...] = np.where(film, np.where(view == 0, number, -1), view)
    return sheet


def nearest_two(sheet: NDArray[np.int32], *, px_mm: float) -> float:
    """Least distance between pixels of two different copies, mm, by scipy.ndimage's exact distance transform."""
    least = np.inf
    for number in range(1, int(sheet.max()) + 1):
        others = (sheet != 0) & (sheet != number)
        own = sheet == number
        if others.any() and own.any():
            distance = ndimage.distance_transform_edt(~others)
            least = min(least, float(distance[own].min()) * px_mm)
    return least
