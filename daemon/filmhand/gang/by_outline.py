"""Outlines nested on a strip by spyrrow (guided local search on overlaps, Gardeyn, Vanden Berghe and Wauters 2025).

Its strip has a fixed height and the shortest width: there x runs along the film and y across it. Swapping the axes also swaps the
hand, so that its mathematical rotation is the film's own: counter-clockwise as seen where y grows down.
"""

from collections import defaultdict
from collections.abc import Sequence
from typing import Final

import spyrrow

from filmhand.gang.outline import Outline
from filmhand.gang.poses import Place, Pose, fitting, pose_of
from filmhand.gang.turn import turned_box
from filmhand.rules import GangRules

_SLACK_MM: Final = 0.01
"""spyrrow finds no place for an item that fills the strip exactly; it gets this much more at each edge."""
_EXPLORING: Final = 0.8
"""Share of the time in which it looks for arrangements; in the rest it presses the best one together."""


def nested(outlines: Sequence[Outline], *, width_mm: float, rules: GangRules, seed: int, seconds: float) -> list[Place] | None:
    """Places of all outlines in their order, the topmost at y = 0; None where the solver gave up.

    Every outline fits the strip at some allowed rotation. `seconds`: the most to be spent. A run that time ended does not
    repeat, even with the same seed.
    """
    groups: dict[Outline, list[int]] = defaultdict(list)
    for index, outline in enumerate(outlines):
        groups[outline].append(index)
    poses = [fitting(outline, width_mm=width_mm, rules=rules) for outline in groups]
    pieces = [
        spyrrow.Item(str(kind), [(y, x) for x, y in outline.points], len(members), [pose.rotation for pose in poses[kind]])
        for kind, (outline, members) in enumerate(groups.items())
    ]
    solution = _solution(pieces, height=width_mm + 2 * (rules.gap + _SLACK_MM), gap_mm=rules.gap, seconds=seconds, seed=seed)
    if solution is None:
        return None
    kinds = list(groups.items())
    result: dict[int, Place] = {}
    for placed in solution.placed_items:
        outline, members = kinds[int(placed.id)]
        result[members[len(members) - 1]] = _on_strip(outline, placed, poses[int(placed.id)], width_mm, rules.gap)
        members.pop()
    start = min(place.y_mm + pose_of(outlines[index], place.rotation_deg).top for index, place in result.items())
    return [Place(place.x_mm, place.y_mm - start, place.rotation_deg) for _, place in sorted(result.items())]


def _solution(
    pieces: Sequence[spyrrow.Item], *, height: float, gap_mm: float, seconds: float, seed: int
) -> spyrrow.StripPackingSolution | None:
    whole = max(2, int(seconds))
    exploring = max(1, round(whole * _EXPLORING))
    config = spyrrow.StripPackingConfig(
        min_items_separation=gap_mm or None,
        total_computation_time=None,
        exploration_time=exploring,
        compression_time=whole - exploring,
        seed=seed,
    )
    try:
        return spyrrow.StripPackingInstance("strip", height, pieces).solve(config)
    except BaseException as problem:  # the solver's panic is no Exception and has no name to import
        if type(problem).__name__ != "PanicException":
            raise
        return None


def _on_strip(outline: Outline, placed: spyrrow.PlacedItem, poses: Sequence[Pose], width_mm: float, gap_mm: float) -> Place:
    """A solved piece in strip coordinates. The solver keeps the gap to the strip's edges too: taken off again here."""
    pose = min(poses, key=lambda pose: abs((pose.rotation - placed.rotation + 180) % 360 - 180))
    left, top, _, _ = turned_box(outline.width_mm, outline.height_mm, pose.rotation)
    along, across = placed.translation
    x = across + left - gap_mm - _SLACK_MM
    return Place(min(max(x, -pose.left), width_mm - pose.left - pose.width), along + top, pose.rotation)
