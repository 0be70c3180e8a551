"""A layout pressed together: no piece is turned or passes another, and all move at once until the strip is as short as it gets.

Pieces are split into convex parts. Between each two parts that come near one another lies a line that parts them; as long as both
keep their side of it, and the gap, the pieces may move as they like, and the shortest strip is a linear programme (compaction
after Li and Milenkovic 1995). It parts pieces that overlap a little, too.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.gang.apart import Lines, lines_between
from filmhand.gang.convex import convex_parts
from filmhand.gang.linear import Inequalities, least_cost
from filmhand.gang.outline import Outline
from filmhand.gang.poses import Place, origin_of, place_at
from filmhand.gang.turn import turned

Reals = NDArray[np.float64]

_STEP_MM: Final = 8.0
"""How far a piece may move at once, along and across; lines are found anew after each step."""
_STEPS: Final = 12
_WORTH_MM: Final = 0.02
_MARGIN_MM: Final = 1e-4
_LACKING: Final = 100.0
"""The weight of what is lacking of the gaps, next to that of the strip's length: gaps come first."""
_UPWARD: Final = 1e-4
"""The weight of each piece's own place, next to that of the strip's length."""


def pressed(outlines: Sequence[Outline], places: Sequence[Place], *, width_mm: float, gap_mm: float) -> list[Place] | None:
    """The places of pieces moved together, none nearer than the gap, on a strip of this width that begins at 0.

    None where pieces overlap so that they could not be parted.
    """
    shapes = _Shapes.of(outlines, places)
    moved = np.zeros((len(places), 2))
    shortest: tuple[float, Reals] | None = None
    for _ in range(_STEPS):
        lines = lines_between((shapes.points + moved[shapes.owner_of_point], shapes.starts, shapes.owner), gap_mm, _STEP_MM)
        ends = float((shapes.high[:, 1] + moved[:, 1]).max())
        is_clear = bool(np.all(lines.apart >= gap_mm - _MARGIN_MM)) and shapes.is_inside(moved, width_mm)
        if is_clear and shortest is not None and ends > shortest[0] - _WORTH_MM:
            break
        if is_clear:
            shortest = ends, moved
        step = least_cost(*_programme(shapes, moved, lines, width_mm=width_mm, gap_mm=gap_mm))
        if step is None:
            break
        moved = moved + step[:-2].reshape(-1, 2)
    if shortest is None:
        return None
    moved = shortest[1] - np.array([0.0, (shapes.low + shortest[1])[:, 1].min()])
    moved[:, 0] = np.maximum(np.minimum(moved[:, 0], width_mm - shapes.high[:, 0]), -shapes.low[:, 0])
    return [
        place_at(outline, origin_of(outline, place) + move, place.rotation_deg)
        for outline, move, place in zip(outlines, moved, places, strict=True)
    ]


@dataclass(frozen=True)
class _Shapes:
    """Laid pieces as convex parts, see gang/apart.py, and the boxes around the pieces, n×2 float64, mm."""

    points: Reals
    starts: NDArray[np.int64]
    owner: NDArray[np.int64]
    low: Reals
    high: Reals

    @classmethod
    def of(cls, outlines: Sequence[Outline], places: Sequence[Place]) -> "_Shapes":
        laid = [
            [turned(part, place.rotation_deg) + origin_of(outline, place) for part in _parts(outline)]
            for outline, place in zip(outlines, places, strict=True)
        ]
        parts = [part for parts in laid for part in parts]
        starts = np.concatenate([[0], np.cumsum([len(part) for part in parts])]).astype(np.int64)
        owner = np.repeat(np.arange(len(laid)), [len(parts) for parts in laid]).astype(np.int64)
        low = np.array([np.concatenate(parts).min(axis=0) for parts in laid])
        high = np.array([np.concatenate(parts).max(axis=0) for parts in laid])
        return cls(np.concatenate(parts), starts, owner, low, high)

    @property
    def owner_of_point(self) -> NDArray[np.int64]:
        return np.repeat(self.owner, np.diff(self.starts))

    def is_inside(self, moved: Reals, width_mm: float) -> bool:
        """Whether all pieces lie between the strip's edges once they are moved."""
        left, right = self.low[:, 0] + moved[:, 0], self.high[:, 0] + moved[:, 0]
        return bool(left.min() >= -_MARGIN_MM and right.max() <= width_mm + _MARGIN_MM)


@lru_cache(maxsize=4096)
def _parts(outline: Outline) -> list[Reals]:
    return convex_parts(outline.ring())


def _programme(shapes: _Shapes, moved: Reals, lines: Lines, *, width_mm: float, gap_mm: float) -> tuple[Reals, Inequalities]:
    """The cost and rows of the shortest strip.

    Unknowns: each piece's move across and along, how far the strip's end moves, and what stays lacking of the gap where most
    is, mm: where pieces overlap they may not come apart in one step.
    """
    count = len(moved)
    low, high = shapes.low + moved, shapes.high + moved
    end = float(high[:, 1].max())
    across, along = 2 * np.arange(count), 2 * np.arange(count) + 1
    one, step = np.ones(count), np.full(count, _STEP_MM)
    single = [
        (across, one, across, 0 * one, np.minimum(step, width_mm - high[:, 0] + _MARGIN_MM / 2)),
        (across, -one, across, 0 * one, np.minimum(step, low[:, 0] + _MARGIN_MM / 2)),
        (along, one, along, 0 * one, step),
        (along, -one, along, 0 * one, np.minimum(step, low[:, 1] + _MARGIN_MM / 2)),
        (along, one, np.full(count, 2 * count), -one, end - high[:, 1]),
        (np.array([2 * count + 1]), -one[:1], across[:1], 0 * one[:1], np.zeros(1)),
    ]
    lacking = np.maximum(gap_mm - lines.apart, 0.0)
    share = lacking / max(float(lacking.max(initial=0.0)), _MARGIN_MM)
    shared = np.full(len(lacking), 2 * count + 1)
    between = np.stack([2 * lines.one, 2 * lines.one + 1, 2 * lines.other, 2 * lines.other + 1, shared], axis=1)
    rows = Inequalities(
        np.concatenate([*(np.stack([first, second, first, first, first], axis=1) for first, _, second, _, _ in single), between]),
        np.concatenate([
            *(np.stack([first, second, *(0 * first,) * 3], axis=1) for _, first, _, second, _ in single),
            np.concatenate([lines.normals, -lines.normals, -share[:, None]], axis=1),
        ]),
        np.concatenate([*(limits for *_, limits in single), lines.apart - gap_mm]),
    )  # fmt: skip
    cost = np.zeros(2 * count + 2)
    cost[1:-2:2], cost[-2], cost[-1] = _UPWARD, 1.0, _LACKING
    return cost, rows
