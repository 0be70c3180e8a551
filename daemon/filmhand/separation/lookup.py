"""Kernels that read a separation table for every pixel: tetrahedral interpolation, all outputs in one pass.

Of the eight nodes about a value, the four along the way from the lowest to the highest are mixed, one axis after the other by
falling distance (Kasson, Plouffe and Nin 1993, "A Tetrahedral Interpolation Technique for Color Space Conversion"): along the
grays only grays are mixed. Inks are kept in the table times coverage, as in that form coverage and ink mix like light.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.compiled import compiled

Bytes = NDArray[np.uint8]
Reals = NDArray[np.float32]
Places = NDArray[np.uint32]


class Grid(NamedTuple):
    """A table for the kernels.

    `values`: float32, flat: for each node, blue running fastest, its coverage, then each ink times coverage, 0 to 1.
    `below`: (3, 256) uint32, for each value of an axis the place of the node at or below it, never the last node.
    `strides`: (3,) uint32, places from a node to the next along each axis.
    `part`: (3, 256) float32, the way from the node below to the next, 0 to 1.
    `least`: float32, coverage under which there is none, or this much.
    """

    values: Reals
    below: Places
    strides: Places
    part: Reals
    least: np.float32


class Planes(NamedTuple):
    """Where the kernel writes; all of it is 0 before.

    `planes`: (n, h, w) uint8. `coverage`: (h, w) uint8. `plane_of`: uint32, for each ink of the grid its plane.
    `white`: the plane of the underbase, or -1; it gets `density` (0 to 255) wherever there is coverage.
    """

    planes: Bytes
    coverage: Bytes
    plane_of: Places
    white: int
    density: int


Corners = tuple[np.uint32, np.uint32, np.uint32, np.uint32]
Weights = tuple[np.float32, np.float32, np.float32, np.float32]


@compiled
def separate_pixels(pixels: Bytes, grid: Grid, out: Planes) -> None:
    """Write the separation of pixels (h, w, 4), straight alpha, to `out`."""
    v, below, strides, part, least = grid  # taken apart once: reaching into a tuple for every pixel costs four times the work
    planes, coverages, plane_of, white, density = out
    half, full, one = np.float32(0.5), np.float32(255), np.uint32(1)
    for y in range(pixels.shape[0]):
        for x in range(pixels.shape[1]):
            alpha = pixels[y, x, 3]
            if alpha == 0:
                continue
            p, w = _corners(pixels[y, x, 0], pixels[y, x, 1], pixels[y, x, 2], below, strides, part)
            share = _mixed(v, p, w)
            scale = full / share
            if share < least:
                share = least if share >= half * least else np.float32(0)
            coverage = np.uint8(np.float32(alpha) * share + half)
            if coverage == 0:
                continue
            coverages[y, x] = coverage
            if white >= 0:
                planes[white, y, x] = density
            for ink in range(plane_of.shape[0]):
                p = (p[0] + one, p[1] + one, p[2] + one, p[3] + one)
                planes[plane_of[ink], y, x] = np.uint8(min(scale * _mixed(v, p, w), full) + half)


@compiled
def share_above(pixels: Bytes, grid: Grid, limit: float) -> tuple[float, float]:
    """Alpha, added up, of all pixels (h, w, 4) and of those at which the grid's first column lies above a limit."""
    v, below, strides, part, _ = grid
    total, above = 0.0, 0.0
    for y in range(pixels.shape[0]):
        for x in range(pixels.shape[1]):
            alpha = pixels[y, x, 3]
            if alpha == 0:
                continue
            p, w = _corners(pixels[y, x, 0], pixels[y, x, 1], pixels[y, x, 2], below, strides, part)
            total += alpha
            if _mixed(v, p, w) > limit:
                above += alpha
    return total, above


@compiled
def _mixed(v: Reals, p: Corners, w: Weights) -> np.float32:
    """One column of the table, mixed of four nodes."""
    return np.float32(w[0] * v[p[0]] + w[1] * v[p[1]] + w[2] * v[p[2]] + w[3] * v[p[3]])


@compiled
def _corners(red: int, green: int, blue: int, below: Places, strides: Places, part: Reals) -> tuple[Corners, Weights]:
    """The places of the four nodes to mix for a value, and the weight of each."""
    r, g, b = part[0, red], part[1, green], part[2, blue]
    to_r, to_g, to_b = strides[0], strides[1], strides[2]
    if r >= g:
        if g >= b:
            far, near, end, first, second = r, g, b, to_r, to_g
        elif r >= b:
            far, near, end, first, second = r, b, g, to_r, to_b
        else:
            far, near, end, first, second = b, r, g, to_b, to_r
    elif r >= b:
        far, near, end, first, second = g, r, b, to_g, to_r
    elif g >= b:
        far, near, end, first, second = g, b, r, to_g, to_b
    else:
        far, near, end, first, second = b, g, r, to_b, to_g
    p0 = below[0, red] + below[1, green] + below[2, blue]
    p1 = p0 + first
    return (p0, p1, p1 + second, p0 + to_r + to_g + to_b), (np.float32(1) - far, far - near, near - end, end)
