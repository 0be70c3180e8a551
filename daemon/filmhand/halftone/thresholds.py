"""From the tone at which a screen lays each dot to the thresholds that tones are compared with."""

import numpy as np
from numpy.typing import NDArray

Tile = NDArray[np.uint8]
"""th×tw uint8 thresholds, 0 to 254: a dot is laid where the tone (0 to 255) is greater. Tone 0 lays none, tone 255 all."""
Floats = NDArray[np.float64]
Onsets = Floats
"""th×tw float64, 0 to less than 1: the amount (1 = every dot) from which on each dot of a tile is laid."""

Ranks = NDArray[np.uint32]
"""th×tw uint32, each of 0 … N-1 once: the order in which dots appear as the tone grows, N being the tile's dots."""

_STRAIGHT = np.linspace(0.0, 1.0, 256)


def thresholds(onsets: Onsets, *, curve: Floats | None = None, start: float = 0.0, full: float = 1.0) -> Tile:
    """The tile whose dots grow from none at amount `start` to all at amount `full` (0 ≤ start < full ≤ 1).

    `curve`: (256,) float64, the amount for each tone, rising from 0 to 1; None for amounts that are the tones. A dot is laid by
    those tones whose amount, as a share of the way from `start` to `full`, is greater than the dot's onset: exactly, since a
    threshold counts the tones that do not lay it.
    """
    share = ((_STRAIGHT if curve is None else curve) - start) / (full - start)
    without = np.searchsorted(share, onsets, side="right")
    return (np.clip(without, 1, 255) - 1).astype(np.uint8)


def onsets_of(ranks: Ranks) -> Onsets:
    """Onsets of dots that appear one by one, so that a flat tone's mean is exact to half a dot of the tile."""
    return (ranks.astype(np.float64) + 0.5) / ranks.size


def onsets_in_turn(order: NDArray[np.intp], turns: NDArray[np.bool_]) -> Floats:
    """(n,) onsets of dots that appear in `order` (their numbers, first to last), several at once where they are one block.

    `turns`: (n,) bool, by place in `order`, whether a new block begins there. All dots of a block have the onset of its middle,
    so a flat tone's mean is exact to half a block.
    """
    begins = np.flatnonzero(turns)
    ends = np.append(begins[1:], order.size)
    onsets = np.empty(order.size)
    onsets[order] = np.repeat((begins + ends) / (2 * order.size), ends - begins)
    return onsets
