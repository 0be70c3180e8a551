"""Best fit on a skyline, bettered step by step: the kernels of gang/boxes.py."""

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.compiled import compiled

_SLACK: Final = 1e-9
_FLUSH: Final = 1e-6
"""Edges nearer than this, mm, lie in one line."""
_WEIGHTS: Final = 5
_FIRST: Final = np.array([
    [1.0, 0.5, 0.1, 0.5, 0.0],
    [1.0, 0.0, 0.01, 0.0, 0.0],
    [0.3, 0.3, 1.0, 0.3, 0.0],
    [0.5, 1.0, 0.5, 1.0, 0.0],
    [0.1, 0.1, 1.0, 0.0, 0.0],
    [1.0, 1.0, 0.0, 1.0, 0.5],
])  # fmt: skip
"""Weights of: filling the notch's width, ending flush with a neighbour, length along, filling the notch exactly, and area."""
_DRAWN_SHARE: Final = 0.1
"""Share of the packings that only draw weights; the best of them is then bettered."""
_THRESHOLD: Final = 0.015
"""The first threshold, as a share of the strip's length."""
_WEIGHT_SHARE: Final = 0.15
"""Share of the changes that are to a weight; the rest are to bonuses."""
_NO_BONUS_SHARE: Final = 0.25
_LEVEL_SHARE: Final = 0.3
"""What a low skyline behind the longest box counts: of two equally long strips the fuller one is the better start."""


Reals = NDArray[np.float64]
Ints = NDArray[np.int64]
Sizes = tuple[Ints, Reals, Reals]


class Laid(NamedTuple):
    """A packing, one box a place in the order in which they were laid: the row of its size, its left and its top, mm."""

    row: NDArray[np.int64]
    left: NDArray[np.float64]
    top: NDArray[np.float64]


def bettered(sizes: Sizes, stock: NDArray[np.int64], *, room: float, seed: int, packings: int) -> Laid:
    """The shortest of `packings` packings of all boxes on a strip `room` mm wide, the gap already added to both.

    `sizes`: one a row, int64 kind, float64 across and along, mm; a kind with several rows may be turned. `stock`: how many of
    each kind, int64. Every kind has a row no wider than the strip. The same arguments give the same packing.
    """
    kind, across, along = sizes
    return Laid(*_bettered((kind, across, along), stock, room, seed % 2**32, packings))


@compiled
def _bettered(sizes: Sizes, stock: Ints, room: float, seed: int, packings: int) -> tuple[Ints, Reals, Reals]:
    np.random.seed(seed)
    count, rows = stock.sum(), len(sizes[0])
    row, left, top = np.empty(count, np.int64), np.empty(count), np.empty(count)
    tops = np.empty(count + 2), np.empty(count + 2)
    best = row.copy(), left.copy(), top.copy()
    weights, bonus = _FIRST[0].copy(), np.zeros(rows)
    now, least = np.inf, np.inf
    kept_weights, kept_bonus = weights.copy(), bonus.copy()
    drawn = max(len(_FIRST), int(packings * _DRAWN_SHARE))
    for number in range(packings):
        if number < len(_FIRST):
            weights[:] = _FIRST[number]
        elif number < drawn:
            for i in range(_WEIGHTS):
                weights[i] = np.random.random()
        else:
            _changed(weights, bonus)
        cost, length = _laid(sizes, stock, room, (weights, bonus), (row, left, top), tops)
        if length < least - _SLACK:
            least = length
            best[0][:], best[1][:], best[2][:] = row, left, top
        ratio = (number - drawn) / max(1, packings - drawn)
        allowed = _THRESHOLD * least * max(0.0, 1.0 - 1.1 * ratio) ** 2 if number >= drawn else 0.0
        if cost <= now + allowed:
            now = cost
            kept_weights[:], kept_bonus[:] = weights, bonus
        else:
            weights[:], bonus[:] = kept_weights, kept_bonus
    return best


@compiled
def _changed(weights: Reals, bonus: Reals) -> None:
    """One weight, or the bonus of one to three sizes, drawn anew."""
    if np.random.random() < _WEIGHT_SHARE:
        weights[np.random.randint(_WEIGHTS)] = np.random.random()
        return
    for _ in range(np.random.randint(1, 4)):
        at = np.random.randint(len(bonus))
        bonus[at] = 0.0 if np.random.random() < _NO_BONUS_SHARE else np.random.normal(0.0, 0.5)


@compiled
def _laid(
    sizes: Sizes,
    stock: Ints,
    room: float,
    taste: tuple[Reals, Reals],
    laid: tuple[Ints, Reals, Reals],
    skyline: tuple[Reals, Reals],
) -> tuple[float, float]:
    """Lay the whole stock; the cost (length and how level the end is) and the length. `skyline`: room for its lefts and tops."""
    kind, across, along = sizes
    weights, bonus = taste
    waiting = stock.copy()
    lefts, tops = skyline
    lefts[0], tops[0], lefts[1] = 0.0, 0.0, room
    notches, done, total, length = 1, 0, len(laid[0]), 0.0
    longest, largest = along.max(), (across * along).max()
    while done < total:
        here = 0
        for i in range(1, notches):
            if tops[i] < tops[here] - _SLACK:
                here = i
        start, width, floor = lefts[here], lefts[here + 1] - lefts[here], tops[here]
        wall_left = tops[here - 1] if here > 0 else np.inf
        wall_right = tops[here + 1] if here + 1 < notches else np.inf
        chosen, top_score = -1, -np.inf
        for r in range(len(kind)):
            if waiting[kind[r]] == 0 or across[r] > width + _SLACK:
                continue
            end = floor + along[r]
            score = weights[0] * across[r] / width + weights[2] * along[r] / longest + bonus[r]
            score += weights[4] * across[r] * along[r] / largest
            if abs(end - wall_left) < _FLUSH or abs(end - wall_right) < _FLUSH:
                score += weights[1]
            if width - across[r] < _FLUSH:
                score += weights[3]
            if score > top_score:
                chosen, top_score = r, score
        if chosen < 0:
            tops[here] = min(wall_left, wall_right)
            notches = _merged(lefts, tops, notches)
            continue
        at_left = wall_left >= wall_right
        x = start if at_left else start + width - across[chosen]
        laid[0][done], laid[1][done], laid[2][done] = chosen, x, floor
        waiting[kind[chosen]] -= 1
        done += 1
        length = max(length, floor + along[chosen])
        notches = _raised(lefts, tops, notches, here, (x, across[chosen], floor + along[chosen], at_left))
    level = 0.0
    for i in range(notches):
        level += tops[i] * (lefts[i + 1] - lefts[i])
    return length + _LEVEL_SHARE * level / room, length


@compiled
def _raised(lefts: Reals, tops: Reals, notches: int, here: int, box: tuple[float, float, float, bool]) -> int:
    """Lay a box (left, across, end, whether at the notch's left) into a notch; how many notches there are then."""
    x, across, end, at_left = box
    rest = lefts[here + 1] - lefts[here] - across
    if rest <= _SLACK:
        tops[here] = end
        return _merged(lefts, tops, notches)
    for i in range(notches + 1, here, -1):
        lefts[i] = lefts[i - 1]
    for i in range(notches, here, -1):
        tops[i] = tops[i - 1]
    if at_left:
        lefts[here + 1], tops[here] = x + across, end
    else:
        lefts[here + 1], tops[here + 1] = x, end
    return _merged(lefts, tops, notches + 1)


@compiled
def _merged(lefts: Reals, tops: Reals, notches: int) -> int:
    """Neighbours of one height made one; how many notches are left."""
    kept = 0
    for i in range(1, notches):
        if abs(tops[i] - tops[kept]) < _SLACK:
            continue
        kept += 1
        lefts[kept], tops[kept] = lefts[i], tops[i]
    lefts[kept + 1] = lefts[notches]
    return kept + 1
