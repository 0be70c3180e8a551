"""How wide a shape is at points near its middle, finer than its pixels: across the nearest edge."""

import math
from dataclasses import dataclass
from typing import Final

import cv2
import numpy as np
from numpy.typing import NDArray

_STEP_PX: Final = 0.5
_CHUNK: Final = 16_384

_SOLID: Final = 255.0

_RESOLVED: Final = 2.0
"""A line of at least this many pixels has a solid middle and two edges; of a finer one only the sum of its alpha is known."""

_SKIRT: Final = 1.5
"""Alpha of a fine line ends within so many pixels of where it passes half: antialiasing and interpolation reach so far."""

_SAME_LENGTH: Final = 1e-3

_CLEAR: Final = 0.2
"""Least coherence of a structure tensor that has a direction."""

Indices = NDArray[np.intp]
Reals = NDArray[np.float32]


@dataclass(frozen=True)
class Across:
    """At n points: the width in pixels, inf where it is beyond what was asked; and how far each point lies from the middle.

    `toward`: n×2, unit vectors (row, column) from each point across the shape; `off_px` is measured along them.
    """

    width_px: Reals
    off_px: Reals
    toward: Reals

    def part(self, part: slice) -> "Across":
        """Views of some of the points."""
        return Across(self.width_px[part], self.off_px[part], self.toward[part])


def measured_across(
    alpha: NDArray[np.uint8], distance: Reals, at: tuple[Indices, Indices], *, longest_px: float, pixel_px: float
) -> Across:
    """Measures a shape at n points (rows, columns). `alpha`: h×w uint8, 255 = solid. `distance`: h×w, 5 × 5 chamfer distance of
    each pixel of the shape from the nearest one outside it, 0 there; up to the longest width.

    An edge lies where alpha, interpolated, passes one half: an antialiased edge is found between its pixels. What is narrower
    than two pixels (of `pixel_px` each on this grid), or nowhere half solid, is as wide as a solid line of the same sum of alpha:
    its equivalent width, as spectroscopy calls it. For coverage is what antialiasing keeps (Catmull 1978; both from memory).
    """
    values = alpha.astype(np.float32)
    points = np.stack(at, axis=-1).astype(np.float32)
    across = Across(np.empty(len(points), np.float32), np.empty(len(points), np.float32), _toward_edge(distance, at))
    for start in range(0, len(points), _CHUNK):
        part = slice(start, start + _CHUNK)
        _measure(values, points[part], across.part(part), longest_px, pixel_px)
    is_beyond = ~(across.width_px <= longest_px)
    across.width_px[is_beyond], across.off_px[is_beyond] = np.inf, 0
    return across


def _toward_edge(distance: Reals, at: tuple[Indices, Indices]) -> Reals:
    """Unit vectors (row, column) from each point to the nearest pixel outside the shape, by its distance from there (h×w).

    Few offsets are as long as a given chamfer distance, so they are tried.
    """
    depth = distance[at]
    reach = math.ceil(float(depth.max(initial=1.0)))
    outside = np.pad(distance == 0, reach)
    lone = np.ones((2 * reach + 1, 2 * reach + 1), np.uint8)
    lone[reach, reach] = 0
    lengths = cv2.distanceTransform(lone, cv2.DIST_L2, cv2.DIST_MASK_5)
    vectors = np.zeros((depth.size, 2), np.float32)
    for length in np.unique(depth):
        waiting = np.flatnonzero(depth == length)
        for down, across in np.argwhere(np.abs(lengths - length) < _SAME_LENGTH) - reach:
            is_there = outside[at[0][waiting] + (reach + down), at[1][waiting] + (reach + across)]
            vectors[waiting[is_there]] = np.array((down, across)) / math.hypot(down, across)
            waiting = waiting[~is_there]
            if not waiting.size:
                break
    return vectors


def _measure(values: Reals, points: Reals, across: Across, longest_px: float, pixel_px: float) -> None:
    """Fill in width and distance from the middle; where the line is fine, its direction too, which its few pixels hardly show."""
    across.width_px[:], across.off_px[:] = _measured(values, points, across.toward, longest_px, pixel_px)
    fine = np.flatnonzero(across.width_px < np.sqrt(2) * _RESOLVED * pixel_px)
    if fine.size:
        across.toward[fine] = _steepest(values, points[fine], across.toward[fine], 0.7 * pixel_px)
        again = _measured(values, points[fine], across.toward[fine], longest_px, pixel_px)
        across.width_px[fine], across.off_px[fine] = again


def _steepest(values: Reals, points: Reals, otherwise: Reals, spacing_px: float) -> Reals:
    """Unit vectors along which alpha changes most around each point: the first axis of the structure tensor (Bigün and Granlund,
    1987, from memory) of 5 × 5 differences; `otherwise` where there is no one direction."""
    offsets = np.arange(-3, 4, dtype=np.float32) * np.float32(spacing_px)
    down, across = (grid.ravel() for grid in np.meshgrid(offsets, offsets, indexing="ij"))
    around = _sampled(values, points[:, :1] + down, points[:, 1:] + across).reshape(-1, 7, 7)
    dy = around[:, 2:, 1:-1] - around[:, :-2, 1:-1]
    dx = around[:, 1:-1, 2:] - around[:, 1:-1, :-2]
    yy, xx, xy = (np.einsum("nij,nij->n", first, second) for first, second in ((dy, dy), (dx, dx), (dx, dy)))
    angle = np.arctan2(2 * xy, xx - yy) / 2
    is_clear = np.hypot(xx - yy, 2 * xy) > _CLEAR * (xx + yy)
    return np.where(is_clear[:, None], np.stack((np.sin(angle), np.cos(angle)), axis=-1), otherwise).astype(np.float32)


def _measured(values: Reals, points: Reals, toward: Reals, longest_px: float, pixel_px: float) -> tuple[Reals, Reals]:
    """Width at each point, and its distance from the middle."""
    steps = np.arange(0, longest_px + _SKIRT * pixel_px + _STEP_PX, _STEP_PX, dtype=np.float32)
    sides = [
        _sampled(values, points[:, :1] + sign * toward[:, :1] * steps, points[:, 1:] + sign * toward[:, 1:] * steps)
        for sign in (1, -1)
    ]
    near = 1 + round(pixel_px / _STEP_PX)
    peak = np.maximum(sides[0][:, :near].max(axis=1), sides[1][:, :near].max(axis=1))
    half = np.asarray(np.minimum(peak, _SOLID) / 2, np.float32)
    edges = [np.minimum(_to_edge(side, half), 2 * longest_px) for side in sides]  # what has no edge is beyond any
    width = edges[0] + edges[1]
    sums = [_sum_to_skirt(side, edge, _SKIRT * pixel_px) for side, edge in zip(sides, edges, strict=True)]
    is_fine = (width < _RESOLVED * pixel_px) | (peak < _SOLID / 2)
    return np.where(is_fine, sums[0] + sums[1], width), np.asarray((edges[0] - edges[1]) / 2, np.float32)


def _sampled(values: Reals, y: Reals, x: Reals) -> Reals:
    """Values at places (n×m), interpolated."""
    return np.asarray(cv2.remap(values, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE), np.float32)


def _to_edge(profile: Reals, half: Reals) -> Reals:
    """Distance along each profile (n×m) to where it passes half; inf where it does not."""
    is_outside = profile < half[:, None]
    first = np.argmax(is_outside, axis=1)
    row = np.arange(first.size)
    before, after = profile[row, np.maximum(first - 1, 0)], profile[row, first]
    share = np.clip((before - half) / np.maximum(before - after, 1e-6), 0, 1)
    return np.where(is_outside[row, first], np.maximum((first - 1 + share) * _STEP_PX, 0), np.inf).astype(np.float32)


def _sum_to_skirt(profile: Reals, edge: Reals, skirt_px: float) -> Reals:
    """Alpha along each profile (n×m) to the end of its skirt, as a length of solid; what rises past the edge is another's."""
    distance = np.arange(profile.shape[1], dtype=np.float32) * _STEP_PX
    is_past = distance > edge[:, None]
    falling = np.minimum.accumulate(np.where(is_past, profile, np.float32(_SOLID)), axis=1)
    own = np.where(is_past, falling, profile) * (distance <= edge[:, None] + skirt_px)
    own[:, 0] /= 2  # the middle belongs to both sides
    return np.asarray(own.sum(axis=1) * (_STEP_PX / _SOLID), np.float32)
