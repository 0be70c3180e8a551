"""Kernels that read a separation table for every pixel: tetrahedral interpolation (grid.py), all inks at once.

Inks are kept in the table times coverage, as in that form coverage and ink mix like light. What makes it fast, measured: all inks
are mixed in one vector, the way through a cell is looked up and not sorted for, a pixel like the one before is not mixed again,
and planes are written a run at a time.
"""

from collections.abc import Callable
from typing import Any, Final, NamedTuple, cast

import numpy as np
from llvmlite import ir
from numba import types
from numba.extending import intrinsic
from numpy.typing import NDArray

from filmhand.colour.compiled import compiled
from filmhand.separation.grid import LANES, Grid

Bytes = NDArray[np.uint8]
Reals = NDArray[np.float32]
Places = NDArray[np.uint32]
Words = NDArray[np.uint64]
Wholes = NDArray[np.uint16]

_RUN: Final = 256
"""Pixels mixed before they are written to the planes."""


class Planes(NamedTuple):
    """Where the kernel writes; all of it is 0 before.

    `planes`: (n, h, w) uint8. `coverage`: (h, w) uint8. `plane_of`: uint32, for each ink of the grid its plane; at most eight.
    `white`, `highlight`: the planes of the first and the second white, or -1: white up to `density` (255 = one full layer) goes
    to the first, what is above to the second.
    """

    planes: Bytes
    coverage: Bytes
    plane_of: Places
    white: int
    highlight: int
    density: int


Corners = tuple[np.uint32, np.uint32, np.uint32, np.uint32]
Weights = tuple[np.float32, np.float32, np.float32, np.float32]


@compiled
def separate_pixels(pixels: Bytes, grid: Grid, out: Planes) -> None:
    """Write the separation of pixels (h, w, 4), straight alpha, to `out`."""
    # taken apart once: reaching into a tuple for every pixel costs
    v, below, way, turns, weights, across, least, whole, white_column, even_white = grid
    inks, under = v[1:], v[white_column:]
    half, full, none = np.float32(0.5), np.float32(255), np.uint64(0)
    coverages, words, whites = np.empty(_RUN, np.uint8), np.empty(_RUN, np.uint64), np.empty(_RUN, np.uint16)
    last, coverage, word, white = np.uint32(0), np.uint8(0), none, np.uint16(0)
    for y in range(pixels.shape[0]):
        for start in range(0, pixels.shape[1], _RUN):
            count = min(_RUN, pixels.shape[1] - start)
            is_bare = True
            for i in range(count):
                red, green, blue, alpha = pixels[y, start + i]
                pixel = _joined(red, green, blue, alpha)
                if pixel != last:
                    last = pixel
                    p, w = _corners(_sum(below, red, green, blue), _sum(way, red, green, blue), turns, weights, across)
                    share = _mixed(v, p, w)
                    scale = full / share
                    if share < least:
                        share = least if share >= half * least else np.float32(0)
                    if share >= whole:
                        share = np.float32(1)
                    coverage = np.uint8(np.float32(alpha) * share + half)
                    word = _inks_mixed(inks, p, w, scale) if coverage > 0 else none
                    white = even_white if coverage > 0 else np.uint16(0)
                    if white_column > 0 and coverage > 0:
                        white = np.uint16(_mixed(under, p, w) * scale + half)
                coverages[i], words[i], whites[i] = coverage, word, white
                is_bare &= coverage == 0
            if not is_bare:
                _write_run((coverages[:count], words[:count], whites[:count]), y, start, out)


@compiled
def share_above(pixels: Bytes, grid: Grid, limit: float) -> tuple[float, float]:
    """Alpha, added up, of all pixels (h, w, 4) and of those at which the grid's first column lies above a limit."""
    v, below, way, turns, weights, across, _, _, _, _ = grid
    total, above = 0.0, 0.0
    for y in range(pixels.shape[0]):
        for x in range(pixels.shape[1]):
            red, green, blue, alpha = pixels[y, x]
            if alpha == 0:
                continue
            p, w = _corners(_sum(below, red, green, blue), _sum(way, red, green, blue), turns, weights, across)
            total += alpha
            if _mixed(v, p, w) > limit:
                above += alpha
    return total, above


@compiled
def _joined(red: int, green: int, blue: int, alpha: int) -> np.uint32:
    """One number for a pixel."""
    low, high = np.uint32(red) | np.uint32(green) << np.uint32(8), np.uint32(blue) | np.uint32(alpha) << np.uint32(8)
    return np.uint32(low | high << np.uint32(16))


@compiled
def _sum(table: Places, red: int, green: int, blue: int) -> np.uint32:
    """What three axes make together."""
    return np.uint32(table[0, red] + table[1, green] + table[2, blue])


@compiled
def _corners(p: np.uint32, k: np.uint32, turns: Places, weights: Reals, across: np.uint32) -> tuple[Corners, Weights]:
    """The places of the four nodes to mix, from the node below on along the way `k`, and the weight of each."""
    return (p, p + turns[k, 0], p + turns[k, 1], p + across), (weights[k, 0], weights[k, 1], weights[k, 2], weights[k, 3])


@compiled
def _mixed(v: Reals, p: Corners, w: Weights) -> np.float32:
    """One column of the table, mixed of four nodes."""
    return np.float32(w[0] * v[p[0]] + w[1] * v[p[1]] + w[2] * v[p[2]] + w[3] * v[p[3]])


@compiled
def _write_run(run: tuple[Bytes, Words, Wholes], y: int, start: int, out: Planes) -> None:
    """Write coverage, inks and white of a run of pixels in row `y` from column `start`."""
    coverages, words, whites = run
    planes, coverage, plane_of, white, highlight, density = out
    count, end, whole = len(words), start + len(words), np.uint16(density)
    coverage[y, start:end] = coverages
    if white >= 0:
        plane = planes[white, y, start:end]
        for i in range(count):
            plane[i] = np.uint8(min(whites[i], whole))
    if highlight >= 0:
        plane = planes[highlight, y, start:end]
        for i in range(count):
            plane[i] = np.uint8(min(max(whites[i], whole) - whole, np.uint16(255)))
    for ink in range(len(plane_of)):
        plane, shift = planes[plane_of[ink], y, start:end], np.uint64(8 * ink)
        for i in range(count):
            plane[i] = np.uint8(words[i] >> shift)


def _vector_of(builder: Any, number: Any) -> Any:
    """A number in all lanes."""
    empty = ir.Constant(ir.VectorType(number.type, LANES), ir.Undefined)
    first = builder.insert_element(empty, number, ir.Constant(ir.IntType(32), 0))
    return builder.shuffle_vector(first, empty, ir.Constant(ir.VectorType(ir.IntType(32), LANES), [0] * LANES))


def _generate_inks_mixed(_typing: Any, values: Any, places: Any, weights: Any, scale: Any) -> Any:
    """The machine's code for `_inks_mixed`: of itself the compiler makes no vectors of it."""

    def generate(context: Any, builder: Any, signature: Any, arguments: Any) -> Any:
        array, corners, shares, factor = arguments
        data = context.make_array(signature.args[0])(context, builder, array).data
        reals, integers = ir.VectorType(ir.FloatType(), LANES), ir.VectorType(ir.IntType(32), LANES)
        total = ir.Constant(reals, [0.0] * LANES)
        for corner in range(4):
            place = builder.zext(builder.extract_value(corners, corner), ir.IntType(64))
            node = builder.load(builder.bitcast(builder.gep(data, [place]), reals.as_pointer()))
            node.align = 4
            total = builder.fadd(total, builder.fmul(node, _vector_of(builder, builder.extract_value(shares, corner))))
        full, half = ir.Constant(reals, [255.0] * LANES), ir.Constant(reals, [0.5] * LANES)
        scaled = builder.fmul(total, _vector_of(builder, factor))
        bounded = builder.select(builder.fcmp_ordered("<", scaled, full), scaled, full)
        whole = builder.fptosi(builder.fadd(bounded, half), integers)
        return builder.bitcast(builder.trunc(whole, ir.VectorType(ir.IntType(8), LANES)), ir.IntType(64))

    return types.uint64(values, places, weights, scale), generate


_inks_mixed = cast(Callable[[Reals, Corners, Weights, np.float32], np.uint64], intrinsic(_generate_inks_mixed))
"""Eight columns of the table, mixed of four nodes, times a scale, as whole numbers up to 255: a byte each, the first lowest."""
