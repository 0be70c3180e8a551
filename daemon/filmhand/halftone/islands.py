"""The least dot and the least hole that powder can hold, enforced on the film of a whole design.

An island is a 4-connected region of film, a hole a 4-connected bare region that does not touch the outside. The small ones are
settled in three passes:

1. Islands with fewer dots than the least disc go, or grow to that disc. No small island is left: what is laid is a disc (or holds
   one, connected) of enough dots, and other islands keep all their dots.
2. Holes likewise: they close, or open to their disc. No small hole is left, by the same argument; but islands may have been cut.
3. Islands that are now small go, without a chance to grow. This cannot leave a small hole: an island that goes is connected, and
   touches a bare region or the outside, so bare regions only join and grow. And no other island loses a dot.

So after the third pass no island and no hole is smaller than its limit, whatever the film. (Both are 4-connected, the stricter
way: powder does not hold together at a corner.)

The mean tone is kept where a screen decided it: a small island of n dots becomes the disc of A dots with the chance n / A, and
what is laid too much or too little is made good by the small islands near by. The artwork's own detail, which no screen decided,
is worth more than the tone: it always keeps its dots and gets the disc as well.
"""

import numpy as np

from filmhand.halftone.bits import WORD, Words
from filmhand.halftone.choke import Disc
from filmhand.halftone.island_pass import Limit, settled
from filmhand.halftone.thresholds import Tile


def enforced(film: Words, screened: Words, *, least_dot: Disc, least_hole: Disc, chance: Tile, width: int | None = None) -> Words:
    """The film, rows×words, 1 = dot, without islands and holes smaller than the discs `least_dot` and `least_hole`.

    `screened`: rows×words, 1 where a screen decided whether there is film; an island or hole with one such dot is the screen's.
    `chance`: uint8 thresholds 0 to 254, repeated over the design; see `Limit`. `width`: dots in a row; None: whole words.
    Discs at the array's edges are moved inwards. Where the array has no room for a disc, that limit is not enforced.
    No argument is changed.
    """
    rows = len(film)
    width = film.shape[1] * WORD if width is None else width
    islands = Limit(dots_of(least_dot), least_dot, chance, grows=True, outside=False)
    holes = Limit(dots_of(least_hole), least_hole, chance, grows=True, outside=True)
    limits_islands, limits_holes = (_fits(limit, rows, width) for limit in (islands, holes))
    if limits_islands:
        film = settled(film, screened, width=width, limit=islands)
    if limits_holes:
        bare = _complement(film, width)
        film = _complement(settled(bare, screened, width=width, limit=holes), width)
    if limits_islands and limits_holes:
        film = settled(film, screened, width=width, limit=islands._replace(grows=False))
    return film if limits_islands or limits_holes else film.copy()


def dots_of(disc: Disc) -> int:
    """Dots that a disc has."""
    across = 2 * disc + 1
    return int(across[0] + 2 * across[1:].sum())


def _fits(limit: Limit, rows: int, width: int) -> bool:
    """Whether a limit asks for more than a dot, and the array has room for its disc."""
    return limit.least > 1 and 2 * limit.disc.size - 1 <= rows and 2 * limit.disc[0] + 1 <= width


def _complement(dots: Words, width: int) -> Words:
    """Bare where there were dots, and the other way; past a row's end nothing."""
    other = np.invert(dots)
    other[:, width // WORD + 1 :] = 0
    if width % WORD or width < WORD * dots.shape[1]:
        other[:, width // WORD] &= np.uint64((1 << width % WORD) - 1)
    return other
