"""Packing boxes on a strip: quick, exactly repeatable, and always with an answer.

The lowest notch of the skyline takes the box that suits it best (best fit on a skyline, after Burke, Kendall and Whitwell 2004).
What "best" weighs, and a bonus for each kind of box, is then bettered step by step: a change is kept where the strip gets no
longer than a threshold allows that falls to nothing (threshold accepting, Dueck and Scheuer 1990). The work is bounded by a count
of packings and not by the clock, so that the same boxes and seed give the same strip.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.gang.skyline import bettered

Size = tuple[float, float]
"""Across the strip and along it, mm."""

PACKINGS: Final = 20_000
_WORK: Final = 500_000_000
"""Choices of a box weighed in all packings together: bounds the time on large nights to a few seconds."""
_FEWEST: Final = 6


@dataclass(frozen=True)
class Packed:
    """`places`: left and top of each box, in the order given; `choices`: which of its sizes it took; `length_mm`: the strip's."""

    places: tuple[tuple[float, float], ...]
    choices: tuple[int, ...]
    length_mm: float


def pack(boxes: Sequence[Sequence[Size]], *, width_mm: float, gap_mm: float, seed: int, packings: int = PACKINGS) -> Packed:
    """Boxes, each with the sizes it may take (turned or not), on a strip of this width, `gap_mm` apart.

    Every box has at least one size no wider than the strip. Boxes may touch the strip's edges, and equal boxes are taken in
    the order given, so that the first lie nearest the strip's start. At most `packings` packings are tried.
    """
    if not boxes:
        return Packed((), (), 0.0)
    kinds = list(Counter(tuple(sizes) for sizes in boxes).items())
    rows = [(kind, choice, *size) for kind, (sizes, _) in enumerate(kinds) for choice, size in enumerate(sizes)]
    kind, choice, across, along = (np.array(column) for column in zip(*rows, strict=True))
    stock = np.array([count for _, count in kinds])
    affordable = _WORK // (len(boxes) * (len(rows) + len(boxes)))
    laid = bettered(
        (kind, across + gap_mm, along + gap_mm),
        stock,
        room=width_mm + gap_mm,
        seed=seed,
        packings=max(1, min(packings, max(_FEWEST, affordable))),
    )
    return _in_order(boxes, [sizes for sizes, _ in kinds], _Laid(kind[laid.row], choice[laid.row], laid.left, laid.top))


@dataclass(frozen=True)
class _Laid:
    """One box a place: its kind, which of the kind's sizes it took, and its left and top, mm."""

    kind: NDArray[np.intp]
    choice: NDArray[np.intp]
    left: NDArray[np.float64]
    top: NDArray[np.float64]


def _in_order(boxes: Sequence[Sequence[Size]], kinds: Sequence[Sequence[Size]], laid: _Laid) -> Packed:
    """The packing box by box in the order given: of equal boxes, the first lies nearest the strip's start."""
    waiting: dict[tuple[Size, ...], list[int]] = {tuple(kind): [] for kind in kinds}
    for one in np.lexsort((laid.left, laid.top))[::-1]:
        waiting[tuple(kinds[laid.kind[one]])].append(int(one))
    ordered = [waiting[tuple(sizes)].pop() for sizes in boxes]
    choices = tuple(int(laid.choice[one]) for one in ordered)
    places = tuple((float(laid.left[one]), float(laid.top[one])) for one in ordered)
    ends = (place[1] + sizes[choice][1] for place, sizes, choice in zip(places, boxes, choices, strict=True))
    return Packed(places, choices, max(ends))
