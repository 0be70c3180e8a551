"""Outlines nested on a strip by spyrrow (guided local search on overlaps, Gardeyn, Vanden Berghe and Wauters 2025).

Its strip has a fixed height and the shortest width: there x runs along the film and y across it. Swapping the axes also swaps the
hand, so that its mathematical rotation is the film's own: counter-clockwise as seen where y grows down.

It gets the pieces a little simpler than they are, inward here and outward there: with fewer corners it comes farther in its time,
and what overlaps after that is parted, and all pressed together, with the true outlines (gang/pressed.py).
"""

import math
from collections import defaultdict
from collections.abc import Sequence
from typing import Final

import spyrrow
from shapely import Polygon

from filmhand.gang.outline import Outline
from filmhand.gang.poses import Place, Pose, fitting, pose_of
from filmhand.gang.pressed import pressed
from filmhand.gang.turn import turned_box
from filmhand.rules import GangRules

_SLACK_MM: Final = 0.01
"""spyrrow finds no place for an item that fills the strip exactly; it gets this much more at each edge."""
_EXPLORING: Final = 0.8
"""Share of the time in which it looks for arrangements; in the rest it presses the best one together."""
_SIMPLER: Final = 0.025
"""How far a left-out corner may lie from the simpler edge, as a share of the piece's size (square root of its area)."""
_AGAIN: Final = 0.5
"""Share of the time for another try, with the true outlines, where overlaps could not be parted."""


def nested(outlines: Sequence[Outline], *, width_mm: float, rules: GangRules, seed: int) -> list[Place] | None:
    """Places of all outlines in their order, the topmost at y = 0, within about the rule's time; None where none were found.

    Every outline fits the strip at some allowed rotation. A run that time ended does not repeat, even with the same seed.
    """
    rough = _laid(outlines, _SIMPLER, width_mm=width_mm, rules=rules, seed=seed)
    places = rough and pressed(outlines, rough, width_mm=width_mm, gap_mm=rules.gap)
    if places:
        return places
    shorter = rules.model_copy(update={"seconds": rules.seconds * _AGAIN})
    exact = _laid(outlines, 0.0, width_mm=width_mm, rules=shorter, seed=seed)
    return exact and (pressed(outlines, exact, width_mm=width_mm, gap_mm=rules.gap) or exact)


def _laid(outlines: Sequence[Outline], simpler: float, *, width_mm: float, rules: GangRules, seed: int) -> list[Place] | None:
    """The solver's places for outlines made simpler; None where it gave up."""
    groups: dict[Outline, list[int]] = defaultdict(list)
    for index, outline in enumerate(outlines):
        groups[outline].append(index)
    poses = [fitting(outline, width_mm=width_mm, rules=rules) for outline in groups]
    pieces = [
        spyrrow.Item(str(kind), _corners(outline, simpler), len(members), [pose.rotation for pose in poses[kind]])
        for kind, (outline, members) in enumerate(groups.items())
    ]
    solution = _solution(pieces, height=width_mm + 2 * (rules.gap + _SLACK_MM), rules=rules, seed=seed)
    if solution is None:
        return None
    kinds = [(outline, iter(members)) for outline, members in groups.items()]
    result: dict[int, Place] = {}
    for placed in solution.placed_items:
        outline, members = kinds[int(placed.id)]
        result[next(members)] = _on_strip(outline, placed, poses[int(placed.id)], width_mm, rules.gap)
    start = min(place.y_mm + pose_of(outlines[index], place.rotation_deg).top for index, place in result.items())
    return [Place(place.x_mm, place.y_mm - start, place.rotation_deg) for _, place in sorted(result.items())]


def _corners(outline: Outline, simpler: float) -> list[tuple[float, float]]:
    """The polygon for the solver, axes swapped, with corners left out that lie this share of its size from the rest's edges."""
    polygon = Polygon(outline.points)
    fewer = polygon.simplify(simpler * math.sqrt(polygon.area))
    return [(y, x) for x, y in fewer.exterior.coords[:-1]]


def _solution(
    pieces: Sequence[spyrrow.Item], *, height: float, rules: GangRules, seed: int
) -> spyrrow.StripPackingSolution | None:
    whole = max(2, int(rules.seconds))
    exploring = max(1, round(whole * _EXPLORING))
    config = spyrrow.StripPackingConfig(
        min_items_separation=rules.gap or None,
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
