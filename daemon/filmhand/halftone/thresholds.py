"""From the order in which a screen lays its dots to the thresholds that tones are compared with."""

import numpy as np
from numpy.typing import NDArray

Tile = NDArray[np.uint8]
"""th×tw uint8 thresholds, 0 to 254: a dot is laid where the tone (0 to 255) is greater. Tone 0 lays none, tone 255 all."""
Ranks = NDArray[np.uint32]
"""th×tw uint32, each of 0 … N-1 once: the order in which dots appear as the tone grows, N being the tile's dots."""


def thresholds(ranks: Ranks, *, start: float = 0.0, full: float = 1.0) -> Tile:
    """The tile whose dots grow from none at tone `start` to all at tone `full` (fractions, 0 ≤ start < full ≤ 1).

    Between them a flat tone's mean is exact to half a dot of the tile: dot r is laid by tones from (r + ½) / N of the way on.
    """
    way = (ranks.astype(np.float64) + 0.5) / ranks.size
    return (np.ceil(255 * (start + (full - start) * way)) - 1).astype(np.uint8)
