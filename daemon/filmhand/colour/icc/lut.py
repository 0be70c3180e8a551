"""A table of an ICC profile: curves, a grid of colours or inks, curves; its value anywhere, and its bytes.

Written as `lutAToBType` and `lutBToAType` (ICC.1:2010 sections 10.10 and 10.11): each input has its own number of nodes, so that
white under colour, which changes nothing, costs a table of five or nine inks two nodes and not its other inks' accuracy.
"""

import struct
from dataclasses import dataclass
from itertools import accumulate, product
from operator import mul
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Words = NDArray[np.uint16]

TOP: Final = 65535
"""The 16-bit number that stands for 1."""
_TETRAHEDRAL: Final = 3
_PRECISION: Final = 2
"""Bytes a number."""


@dataclass(frozen=True, eq=False)
class Lut:
    """From `i` inputs to `o` outputs, all 0 to 1.

    `before`: (i, any) uint16, each input's curve over even steps from 0 to 1. `nodes`: (n_1, …, n_i, o) uint16, even steps of the
    curved inputs. `after`: (o, any) uint16, each output's curve. In all, 65535 = 1.
    """

    before: Words
    nodes: Words
    after: Words

    def at(self, values: Floats, *, straight: bool) -> Floats:
        """Outputs (m, o) for inputs (m, i).

        `straight`: linear along every input, as LittleCMS reads tables from colour to ink; else tetrahedral in the last three
        inputs (Kasson, Plouffe and Nin 1993) and linear in those before, as it reads tables from ink to colour.
        """
        *counts, outputs = self.nodes.shape
        place = _curved(values, self.before) * (np.array(counts) - 1)
        low = np.clip(place.astype(np.int64), 0, np.array(counts) - 2)
        split = len(counts) if straight else len(counts) - _TETRAHEDRAL
        strides = np.array(list(accumulate(counts[:0:-1], mul, initial=1))[::-1])
        flat = self.nodes.reshape(-1, outputs)
        mixed = np.zeros((len(values), outputs))
        for weight, first in _box(low, place - low, strides, split):
            for share, further in _tetrahedron((place - low)[:, split:], strides[split:]):
                mixed += (weight * share)[:, None] * flat[first + further]
        return _curved(mixed / TOP, self.after)

    def from_device(self) -> bytes:
        """A `lutAToBType`: `before` are its A curves, `after` its B curves."""
        return self._bytes(b"mAB ", a=self.before, b=self.after)

    def to_device(self) -> bytes:
        """A `lutBToAType`: `before` are its B curves, `after` its A curves."""
        return self._bytes(b"mBA ", a=self.after, b=self.before)

    def _bytes(self, kind: bytes, *, a: Words, b: Words) -> bytes:
        """The tag, its parts in the order B curves, grid, A curves; matrix and M curves are left out (offset 0)."""
        *counts, outputs = self.nodes.shape
        parts = [_curves(b), _grid(counts) + _padded(self.nodes.astype(">u2").tobytes()), _curves(a)]
        b_at, grid_at, a_at = accumulate([len(parts[0]), len(parts[1])], initial=_HEAD.size)
        return _HEAD.pack(kind, 0, len(counts), outputs, 0, b_at, 0, 0, grid_at, a_at) + b"".join(parts)


_HEAD: Final = struct.Struct(">4sIBBH5I")
"""Signature, 0, inputs, outputs, 0, and where the B curves, matrix, M curves, grid and A curves begin."""


def words(values: Floats) -> Words:
    """16-bit numbers of values 0 to 1; what lies outside is clipped."""
    return np.rint(np.clip(values, 0, 1) * TOP).astype(np.uint16)


def curve(values: Words) -> bytes:
    """A `curveType` (ICC.1:2010 section 10.5) over even steps."""
    return _padded(struct.pack(">4sII", b"curv", 0, len(values)) + values.astype(">u2").tobytes())


def _curves(curves: Words) -> bytes:
    return b"".join(curve(values) for values in curves)


def _grid(counts: list[int]) -> bytes:
    """The head of a grid: nodes along each of sixteen inputs (0: no such input), bytes a number, and three bytes of nothing."""
    return bytes(counts) + bytes(16 - len(counts)) + bytes([_PRECISION, 0, 0, 0])


def _padded(content: bytes) -> bytes:
    """To a multiple of four bytes, on which every part of a profile begins."""
    return content + bytes(-len(content) % 4)


def _curved(values: Floats, curves: Words) -> Floats:
    """Values (m, c), each column by its curve."""
    steps = np.linspace(0, 1, curves.shape[1])
    columns = [np.interp(values[:, c], steps, curves[c] / TOP) for c in range(len(curves))]
    return np.stack(columns, axis=1)


def _box(low: NDArray[np.int64], part: Floats, strides: NDArray[np.int64], split: int) -> list[tuple[Floats, NDArray[np.int64]]]:
    """Weights (m,) and places (m,) of the corners along the first `split` inputs, at the low end of the others."""
    base = low @ strides
    corners = []
    for ends in product((0, 1), repeat=split):
        high = np.array(ends, bool)
        weight = np.where(high, part[:, :split], 1 - part[:, :split]).prod(axis=1)
        corners.append((weight, base + int(strides[:split] @ np.array(ends, np.int64))))
    return corners


def _tetrahedron(part: Floats, strides: NDArray[np.int64]) -> list[tuple[Floats, NDArray[np.int64]]]:
    """Weights (m,) and further places (m,) of the nodes on the way from the low to the high corner, by falling part."""
    order = np.argsort(-part, axis=1, kind="stable")
    falling = np.take_along_axis(part, order, axis=1)
    edges = np.concatenate([np.ones((len(part), 1)), falling, np.zeros((len(part), 1))], axis=1)
    ways = np.concatenate([np.zeros((len(part), 1), np.int64), np.cumsum(strides[order], axis=1)], axis=1)
    return [(edges[:, i] - edges[:, i + 1], ways[:, i]) for i in range(part.shape[1] + 1)]
