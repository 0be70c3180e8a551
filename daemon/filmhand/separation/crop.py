"""Cropping a separation to its film: what the knockout left bare around the picture takes no room on the sheet."""

from dataclasses import replace

import numpy as np

from filmhand.separation.model import Separation


def cropped(separation: Separation) -> Separation | None:
    """The separation cut to the rows and columns that have film, its size with it; None where nothing has.

    The arrays are views of the given ones.
    """
    rows = np.flatnonzero(separation.coverage.max(axis=1))
    if rows.size == 0:
        return None
    columns = np.flatnonzero(separation.coverage.max(axis=0))
    down, across = slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1)
    height, width = separation.coverage.shape
    coverage = separation.coverage[down, across]
    return replace(
        separation,
        planes=separation.planes[:, down, across],
        coverage=coverage,
        width_mm=separation.width_mm * coverage.shape[1] / width,
        height_mm=separation.height_mm * coverage.shape[0] / height,
    )


def bordered(separation: Separation, border_px: int) -> Separation:
    """The separation with so many bare pixels more on every side, their inks those beside them."""
    if border_px == 0:
        return separation
    height, width = separation.coverage.shape
    sides = ((border_px, border_px), (border_px, border_px))
    return replace(
        separation,
        planes=np.pad(separation.planes, ((0, 0), *sides), mode="edge"),
        coverage=np.pad(separation.coverage, sides),
        width_mm=separation.width_mm * (width + 2 * border_px) / width,
        height_mm=separation.height_mm * (height + 2 * border_px) / height,
    )
