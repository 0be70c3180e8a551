"""Packing boxes on a strip: quick, repeatable, and always with an answer.

The lowest notch of the skyline takes the box that fits it best (best fit on a skyline, after Burke, Kendall and Whitwell 2004).
What "best" weighs is varied over a bounded number of packings, and the shortest wins.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

Size = tuple[float, float]
"""Across the strip and along it, mm."""

PACKINGS: Final = 80
_WORK: Final = 16_000
"""Boxes placed in all packings together: bounds the time on large nights to about a second."""
_WEIGHTS: Final = ((1.0, 0.5, 0.1), (1.0, 0.0, 0.01), (0.3, 0.3, 1.0), (0.5, 1.0, 0.5), (0.1, 0.1, 1.0), (1.0, 1.0, 0.0))
"""Weights of: filling the notch's width, ending flush with a neighbour, length along the strip. Later packings draw their own."""
_SLACK: Final = 1e-9


@dataclass(frozen=True)
class Packed:
    """`places`: left and top of each box, in the order given; `choices`: which of its sizes it took; `length_mm`: the strip's."""

    places: tuple[tuple[float, float], ...]
    choices: tuple[int, ...]
    length_mm: float


@dataclass
class _Notch:
    left: float
    width: float
    top: float


def pack(boxes: Sequence[Sequence[Size]], *, width_mm: float, gap_mm: float, seed: int, packings: int = PACKINGS) -> Packed:
    """Boxes, each with the sizes it may take (turned or not), on a strip of this width, `gap_mm` apart.

    Every box has at least one size no wider than the strip. Boxes may touch the strip's edges, and equal boxes are taken in
    the order given, so that the first lie nearest the strip's start.
    """
    kinds = list(Counter(tuple(sizes) for sizes in boxes).items())
    table = _Table.of([kind for kind, _ in kinds], gap_mm)
    stock = np.array([count for _, count in kinds])
    rng = np.random.default_rng(seed)
    best: list[_Laid] | None = None
    shortest = np.inf
    for number in range(max(1, min(packings, _WORK // max(1, len(boxes))))):
        weights = _WEIGHTS[number] if number < len(_WEIGHTS) else tuple(rng.random(3))
        laid = _laid(table, stock.copy(), room=width_mm + gap_mm, weights=weights, limit=shortest)
        if laid is not None:
            best, shortest = laid, max((one.top + one.along for one in laid), default=gap_mm)
    return _in_order(boxes, [kind for kind, _ in kinds], best or [], shortest - gap_mm)


@dataclass(frozen=True)
class _Table:
    """Every size of every kind of box, one a row: kind, which of the kind's sizes, across and along with the gap added."""

    kind: NDArray[np.intp]
    choice: NDArray[np.intp]
    across: NDArray[np.float64]
    along: NDArray[np.float64]

    @classmethod
    def of(cls, kinds: Sequence[Sequence[Size]], gap_mm: float) -> "_Table":
        rows = [(kind, choice, *size) for kind, sizes in enumerate(kinds) for choice, size in enumerate(sizes)]
        kind, choice, across, along = (np.array(column) for column in zip(*rows, strict=True)) if rows else (np.zeros(0),) * 4
        return cls(kind.astype(np.intp), choice.astype(np.intp), across + gap_mm, along + gap_mm)


@dataclass(frozen=True)
class _Laid:
    kind: int
    choice: int
    left: float
    top: float
    along: float


def _laid(table: _Table, stock: NDArray[np.int64], *, room: float, weights: Sequence[float], limit: float) -> list[_Laid] | None:
    """One packing of the whole stock (used up), or None once it cannot be shorter than `limit`."""
    skyline = [_Notch(0.0, room, 0.0)]
    laid: list[_Laid] = []
    longest = float(table.along.max(initial=1.0))
    while stock.any():
        here = min(range(len(skyline)), key=lambda i: (skyline[i].top, skyline[i].left))
        notch = skyline[here]
        walls = _walls(skyline, here)
        fits = np.flatnonzero((table.across <= notch.width + _SLACK) & (stock[table.kind] > 0))
        if not len(fits):
            _fill(skyline, here, min(walls))
            continue
        rises = table.along[fits]
        flush = (np.abs(notch.top + rises - walls[0]) < _SLACK) | (np.abs(notch.top + rises - walls[1]) < _SLACK)
        score = weights[0] * table.across[fits] / notch.width + weights[1] * flush + weights[2] * rises / longest
        row = int(fits[np.argmax(score)])
        across, along = float(table.across[row]), float(table.along[row])
        if notch.top + along >= limit - _SLACK:
            return None
        left = notch.left if walls[0] >= walls[1] else notch.left + notch.width - across
        laid.append(_Laid(int(table.kind[row]), int(table.choice[row]), left, notch.top, along))
        stock[table.kind[row]] -= 1
        _raise(skyline, here, left, across, notch.top + along)
    return laid


def _walls(skyline: Sequence[_Notch], here: int) -> tuple[float, float]:
    """How far the neighbours to the left and right reach; infinitely at the strip's edges."""
    return (
        skyline[here - 1].top if here > 0 else np.inf,
        skyline[here + 1].top if here + 1 < len(skyline) else np.inf,
    )


def _raise(skyline: list[_Notch], here: int, left: float, across: float, top: float) -> None:
    """Lay a box into one end of a notch."""
    notch = skyline[here]
    rest = notch.width - across
    pieces = [_Notch(left, across, top)]
    if rest > _SLACK:
        at_left = left > notch.left
        pieces.insert(0 if at_left else 1, _Notch(notch.left if at_left else left + across, rest, notch.top))
    skyline[here : here + 1] = pieces
    _merge(skyline)


def _fill(skyline: list[_Notch], here: int, top: float) -> None:
    """Give up a notch that nothing fits: it becomes as high as its lower neighbour."""
    skyline[here].top = top
    _merge(skyline)


def _merge(skyline: list[_Notch]) -> None:
    """Make neighbours of one height one."""
    for i in range(len(skyline) - 1, 0, -1):
        if abs(skyline[i].top - skyline[i - 1].top) < _SLACK:
            skyline[i - 1].width += skyline[i].width
            del skyline[i]


def _in_order(
    boxes: Sequence[Sequence[Size]], kinds: Sequence[Sequence[Size]], laid: Sequence[_Laid], length_mm: float
) -> Packed:
    """The packing box by box in the order given: of equal boxes, the first lies nearest the strip's start."""
    waiting: dict[tuple[Size, ...], list[_Laid]] = {tuple(kind): [] for kind in kinds}
    for one in sorted(laid, key=lambda one: (one.top, one.left), reverse=True):
        waiting[tuple(kinds[one.kind])].append(one)
    ordered = [waiting[tuple(sizes)].pop() for sizes in boxes]
    return Packed(
        places=tuple((one.left, one.top) for one in ordered),
        choices=tuple(one.choice for one in ordered),
        length_mm=max(0.0, length_mm),
    )
