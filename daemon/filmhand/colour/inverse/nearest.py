"""The inks whose colour is nearest to a wanted one: exact where it can be printed, else the hue kept as well as possible.

Of all inks that give a colour, those with K nearest to a wanted K are found: K counts so little beside colour that it is missed
by far less than ΔE00 0.1. Each hue sector the colour may lie in is tried. Were inks to mix like light of fixed colours, the
sectors would be the faces of a hull: at equal K each colour lies in one of them, and on the seam between two both give the same
inks. So the cheapest is kept: nearest in colour, then in K, then the least ink.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.chunks import Results, pairs_in_chunks
from filmhand.colour.inverse.descent import Goals, Sector, descend_all
from filmhand.colour.inverse.nearness import far_metric
from filmhand.colour.inverse.printable import MOST, Printable
from filmhand.colour.oklab import OPPONENT, UNITS, oklab_from_xyz
from filmhand.rules import Ink

Floats = NDArray[np.float64]

MOST_STEPS: Final = 200
_BLACK_PULL: Final = 1.0
"""What K off its wanted amount by one full ink costs, beside a colour off by one unit (our own, no source)."""
_INK_COST: Final = 0.05
"""What one full ink more costs when sectors are compared (our own, no source)."""
_STUCK: Final = 0.3
"""Miss beyond which a colour at the ink limit is sought again."""
_AT_LIMIT: Final = 0.005
_LEAST_CHROMA: Final = 0.015
"""Oklab chroma under which a colour is left to the process inks."""
_HUE_MARGIN: Final = np.radians(12.0)
"""How far beyond a sector's own hues it is still tried."""


def nearest_inks(xyz: Floats, printable: Printable, *, limit: float, black: Floats, start: Floats | None = None) -> Floats:
    """Inks (m, k) for colours (m, 3), XYZ, with K near `black` (m,), 0 to 1, as far as that leaves the colour what it is.

    `limit`: most ink together, 1 = one full ink. `start`: inks (m, k) from which to seek; without them, the likeliest of some.
    """
    target, metric = oklab_from_xyz(xyz) * UNITS, far_metric(xyz)
    inks, least = np.zeros((len(xyz), len(printable.inks))), np.full(len(xyz), np.inf)
    for i, (places, sector) in enumerate(zip(printable.sectors, printable.within(limit), strict=True)):
        tried = np.arange(len(xyz)) if i == 0 else np.flatnonzero(_may_lie_in(target, sector))
        if len(tried) == 0:
            continue
        columns = list(places)
        wishes, pulls = black_wish(black[tried], printable, i)
        goals = Goals(target[tried], metric[tried], wishes, pulls, np.zeros_like(wishes))
        found, misses = descended(goals, _start_in(start, tried, columns, sector), sector)
        _free_stuck(found, misses, goals, sector)
        cost = misses**2 + _off_wish(found, goals) + _INK_COST * found.sum(axis=1)
        better = cost < least[tried]
        kept = tried[better]
        least[kept] = cost[better]
        inks[kept] = 0
        inks[kept[:, None], columns] = found[better, : len(columns)]
    return inks


def _free_stuck(found: Floats, misses: Floats, goals: Goals, sector: Sector) -> None:
    """Seek again, from the most black, what misses at the ink limit (`found` and `misses` are changed in place).

    A dark colour that wants little black may fill the limit with coloured ink and still be too light: the way down leads over
    lighter ones, as a little more black darkens less than the coloured ink that makes room for it.
    """
    stuck = np.flatnonzero((misses > _STUCK) & (found.sum(axis=1) > sector.most - _AT_LIMIT) & goals.pulls.any(axis=1))
    if len(stuck) == 0:
        return
    wanted = Goals(*(each[stuck] for each in goals))
    blackest = wanted._replace(wishes=(wanted.pulls > 0).astype(np.float64))
    begun, _ = descended(blackest, np.full((len(stuck), MOST), np.nan), sector)
    again, off = descended(wanted, begun, sector)
    better = off**2 + _off_wish(again, wanted) < misses[stuck] ** 2 + _off_wish(found[stuck], wanted)
    found[stuck[better]], misses[stuck[better]] = again[better], off[better]


def _off_wish(inks: Floats, goals: Goals) -> Floats:
    return np.asarray((goals.pulls * (inks - goals.wishes) ** 2).sum(axis=1))


def descended(goals: Goals, start: Floats, sector: Sector, *, most_steps: int = MOST_STEPS) -> Results:
    """`descend_all` on several threads."""
    return pairs_in_chunks(
        lambda part: descend_all(Goals(*(each[part] for each in goals)), start[part], sector, most_steps), len(start)
    )


def black_wish(black: Floats, printable: Printable, i: int) -> tuple[Floats, Floats]:
    """Wishes and pulls (m, 4) of sector i's inks that ask for K `black` (m,), where it has black ink."""
    letters = [printable.inks[place] for place in printable.sectors[i]]
    wishes, pulls = np.zeros((len(black), MOST)), np.zeros((len(black), MOST))
    if Ink.BLACK in letters:
        wishes[:, letters.index(Ink.BLACK)] = black
        pulls[:, letters.index(Ink.BLACK)] = _BLACK_PULL
    return wishes, pulls


def _start_in(start: Floats | None, tried: NDArray[np.intp], columns: list[int], sector: Sector) -> Floats:
    """A start (m, 4) within a sector's bounds; NaN where one is to be chosen."""
    result = np.full((len(tried), MOST), np.nan)
    if start is not None:
        result[:] = 0
        result[:, : len(columns)] = start[tried[:, None], columns]
        result *= np.minimum(1, sector.most / np.maximum(result.sum(axis=1, keepdims=True), 1e-12))
    return result


def _may_lie_in(target: Floats, sector: Sector) -> NDArray[np.bool_]:
    """Whether colours (m, 3), Oklab in `UNITS`, have a hue (m,) that a sector's inks can mix without dulling it."""
    a, b = target[:, 1] / UNITS[1], target[:, 2] / UNITS[2]
    first, width = _hue_range(sector)
    return np.asarray((np.hypot(a, b) > _LEAST_CHROMA) & ((np.arctan2(b, a) - first) % (2 * np.pi) <= width))


def _hue_range(sector: Sector) -> tuple[float, float]:
    """Where on the hue circle a sector's inks begin, and how far they reach, both with a margin, in radians."""
    seen = sector.seed_roots[sector.seeds.sum(axis=1) > 0] @ OPPONENT.T
    strong = seen[np.hypot(seen[:, 1], seen[:, 2]) > _LEAST_CHROMA]
    hues = np.sort(np.arctan2(strong[:, 2], strong[:, 1]))
    gaps = np.diff(np.append(hues, hues[0] + 2 * np.pi))
    widest = int(np.argmax(gaps))
    first = float(hues[(widest + 1) % len(hues)])
    return first - _HUE_MARGIN, 2 * np.pi - float(gaps[widest]) + 2 * _HUE_MARGIN
