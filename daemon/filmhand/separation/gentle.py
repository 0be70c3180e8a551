"""Coverage made to rise gently over a separation table: more film where the least would jump, never less.

Where film may miss a colour a little for the sake of much less film (knockout.py), the least coverage of neighbouring colours can
differ by half; a screen would show the seam though the colours meet. All coverages above the least work too, so it is raised
until it rises no faster than a slope; but not about bare nodes, which stay bare: towards them a steeper slope is let be.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]

_SLOPE: Final = 0.15 / 8
"""Coverage that may be gained over one source value: 0.15 from an even node to the next (our own, no source)."""
_SLOPE_ABOUT_BARE: Final = 0.3 / 8


def gentle(least: Floats, axes: tuple[Bytes, Bytes, Bytes]) -> Floats:
    """Coverage (r, g, b), 0 to 1, at least `least`, and 0 just where that is, over the node values of three axes."""
    raised = under_slopes(least, axes, _SLOPE)
    room = 1 - under_slopes(np.where(least > 0, -np.inf, 1.0), axes, _SLOPE_ABOUT_BARE)
    return np.where(least > 0, np.maximum(least, np.minimum(raised, room)), 0)


def under_slopes(values: Floats, axes: tuple[Bytes, Bytes, Bytes], slope: float) -> Floats:
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
