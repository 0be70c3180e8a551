"""Inks carried one pixel out from the film, under where it ends.

A pixel without film has no ink. But dots lie between pixels, and their tones are mixed of those about them: beside the last
pixel with film ink would fade, though the film that is there shall have its colour in full. So bare pixels beside film take the
inks of the neighbour with the most film. Nothing is printed there, as there is no coverage.
"""

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.compiled import compiled

Bytes = NDArray[np.uint8]


def bleed(planes: Bytes, coverage: Bytes, fills: Bytes) -> None:
    """Fill planes (n, h, w) where coverage (h, w) is 0: beside film with its inks, elsewhere with `fills` (n,), a tone each."""
    rows: NDArray[np.bool_] = coverage.max(axis=1) > 0
    near = rows.copy()
    near[1:] |= rows[:-1]
    near[:-1] |= rows[1:]
    for plane, fill in zip(planes, fills, strict=True):
        if fill:
            plane[~near] = fill
    _bleed(planes, coverage, fills, np.flatnonzero(near))


@compiled
def _bleed(planes: Bytes, coverage: Bytes, fills: Bytes, rows: NDArray[np.intp]) -> None:
    height, width = coverage.shape
    for y in rows:
        for x in range(width):
            if coverage[y, x] > 0:
                continue
            most, from_y, from_x = 0, 0, 0
            for j in range(max(y - 1, 0), min(y + 2, height)):
                for i in range(max(x - 1, 0), min(x + 2, width)):
                    if coverage[j, i] > most:
                        most, from_y, from_x = coverage[j, i], j, i
            for plane in range(len(planes)):
                planes[plane, y, x] = planes[plane, from_y, from_x] if most > 0 else fills[plane]
