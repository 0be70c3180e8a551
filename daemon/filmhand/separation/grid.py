"""A separation table laid out for the kernels of lookup.py: nothing but places and weights is left to look up for a pixel.

Of the eight nodes about a value, the four along the way from the lowest to the highest are mixed, one axis after the other by
falling distance (Kasson, Plouffe and Nin 1993, "A Tetrahedral Interpolation Technique for Color Space Conversion"): along the
grays only grays are mixed. An 8-bit value lies at few different distances beyond its node, so the ways and their weights are
listed once: 3375 of them on even nodes.
"""

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]
Reals = NDArray[np.float32]
Places = NDArray[np.uint32]

LANES: Final = 8
"""Columns that the kernels read at once, whether a node has so many or not."""


class Grid(NamedTuple):
    """A table for the kernels.

    `values`: float32, flat: for each node, blue running fastest, its coverage, then each ink times coverage, 0 to 1, then white
    times coverage where it is not the same everywhere; then zeros, so that `LANES` can be read at the last node.
    `below`: (3, 256) uint32, for each value of an axis the place of the node at or below it; added up, the node below a colour.
    `way`: (3, 256) uint32; added up, the way through the cell that a colour lies in.
    `turns`: (m, 2) uint32, for each way the places from the node below to the second and third node on it.
    `weights`: (m, 4) float32, for each way how much of its four nodes is mixed.
    `across`: uint32, places from the node below to the fourth, at the cell's other end.
    `least`: float32, coverage under which there is none, or this much.
    `whole`: float32, coverage from which on it is 1: near a node of whole film none shall be short of it by a hole.
    `white_column`: of `values`, 0 where white is the same everywhere. `even_white`: it is then this, 255 = one full layer.
    """

    values: Reals
    below: Places
    way: Places
    turns: Places
    weights: Reals
    across: np.uint32
    least: np.float32
    whole: np.float32
    white_column: np.intp
    even_white: np.uint16


def grid_of(
    values: Reals, *, axes: tuple[Bytes, Bytes, Bytes], least: float, whole: float = 1.0, white: Reals | None = None
) -> Grid:
    """Values (r, g, b, columns) float32 at nodes (each axis rising from 0 to 255), the least coverage, and that which counts as
    whole, 0 to 1, and the volume of white (r, g, b) float32, 1 = one full layer."""
    even_white, white_column = 0.0 if white is None else float(white.flat[0]), 0
    if white is not None and np.ptp(white) > 0:
        white_column = values.shape[3]
        values = np.concatenate([values, (values[..., 0] * white)[..., None]], axis=-1)
    steps = values.shape[3] * np.array([values.shape[1] * values.shape[2], values.shape[2], 1])
    below, part = np.empty((3, 256), np.uint32), np.empty((3, 256))
    for i, axis in enumerate(axes):
        node = np.clip(np.searchsorted(axis, np.arange(256), side="right") - 1, 0, len(axis) - 2)
        low, high = axis[node].astype(np.float64), axis[node + 1].astype(np.float64)
        below[i], part[i] = node * steps[i], (np.arange(256) - low) / (high - low)
    way, parts = _ways(part)
    order = np.argsort(-parts, axis=1, kind="stable")
    falling = np.take_along_axis(parts, order, axis=1)
    return Grid(
        values=np.append(values.ravel(), np.zeros(LANES, np.float32)),
        below=below,
        way=way,
        turns=np.ascontiguousarray(np.cumsum(steps[order], axis=1)[:, :2], np.uint32),
        weights=-np.diff(falling, prepend=1, append=0, axis=1).astype(np.float32),
        across=np.uint32(steps.sum()),
        least=np.float32(least),
        whole=np.float32(whole),
        white_column=np.intp(white_column),
        even_white=np.uint16(np.rint(255 * even_white)),
    )


def _ways(part: NDArray[np.float64]) -> tuple[Places, NDArray[np.float64]]:
    """`way`, and for each way the parts (m, 3) of the step along each axis, of parts (3, 256) by value."""
    kinds, index = zip(*(np.unique(row, return_inverse=True) for row in part), strict=True)
    sizes = np.array([len(kind) for kind in kinds])
    strides = np.array([sizes[1] * sizes[2], sizes[2], 1])
    parts = np.stack(np.meshgrid(*kinds, indexing="ij"), axis=-1).reshape(-1, 3)
    return (np.stack(index) * strides[:, None]).astype(np.uint32), parts
