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
