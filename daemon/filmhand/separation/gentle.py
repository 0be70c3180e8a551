"""Coverage made to rise gently over a separation table: more film where the least would jump, never less.

Where film may miss a colour a little for the sake of much less film (knockout.py), the least coverage of neighbouring colours can
differ by half; a screen would show the seam though the colours meet. What full film can show, all coverages above the least can;
so it is raised until it rises no faster than a slope. But bare nodes stay bare, and colours near the garment's that no ink can
print keep their sparse film: towards these a steeper slope is let be.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

Bools = NDArray[np.bool_]
Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]
Axes = tuple[Bytes, Bytes, Bytes]

_SLOPE: Final = 0.15 / 8
"""Coverage that may be gained over one source value: 0.15 from an even node to the next (our own, no source)."""
_SLOPE_ABOUT_KEPT: Final = 0.3 / 8


def gentle(least: Floats, axes: Axes, kept: Bools) -> Floats:
    """Coverage (r, g, b), 0 to 1, over the node values of three axes: at least `least`, and just that where it is 0 or `kept`."""
    return raised(least, under_slopes(least, axes, _SLOPE), axes, kept)


def raised(least: Floats, wanted: Floats, axes: Axes, kept: Bools) -> Floats:
    """The coverage `wanted` (r, g, b) as far as nodes that are bare or `kept` leave room for it, and no less than `least`."""
    fixed = kept | (least == 0)
    room = -under_slopes(np.where(fixed, -least, -np.inf), axes, _SLOPE_ABOUT_KEPT)
    return np.where(fixed, least, np.maximum(least, np.minimum(wanted, room)))


def under_slopes(values: Floats, axes: Axes, slope: float) -> Floats:
    """The least array no lower than `values` that falls no faster than a slope from any node, along the axes."""
    result = values.copy()
    for i, axis in enumerate(axes):
        line = np.moveaxis(result, i, 0)
        drops = slope * np.diff(axis.astype(np.float64))
        for node in range(1, len(axis)):
            np.maximum(line[node], line[node - 1] - drops[node - 1], out=line[node])
        for node in range(len(axis) - 2, -1, -1):
            np.maximum(line[node], line[node + 1] - drops[node], out=line[node])
    return result
