"""Laying copies on a strip of film: by boxes first, so that there is always an answer, then by outlines if that is shorter.

Outlines are nested by spyrrow (guided local search on overlaps, Gardeyn, Vanden Berghe and Wauters 2025). Its strip has a fixed
height and the shortest width: there x runs along the film and y across it. Swapping the axes also swaps the hand, so that its
mathematical rotation is the film's own: counter-clockwise as seen where y grows down.
"""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Final

import spyrrow

from filmhand.errors import SettingsError
from filmhand.gang import boxes
from filmhand.gang.clearance import Area, clearance_faults
from filmhand.gang.outline import Outline
from filmhand.gang.sheet import Placement
from filmhand.gang.turn import turned, turned_box
from filmhand.rules import GangRules, Nest

_SLACK_MM: Final = 0.01
"""spyrrow finds no place for an item that fills the strip exactly; it gets this much more at each edge."""
_ROUNDING_MM: Final = 1e-6
_WORTH_MM: Final = 0.5
"""Film saved that makes outlines worth looking for."""


@dataclass(frozen=True)
class Item:
    """One copy to be laid; its outline is already mirrored where the printer mirrors."""

    job: str
    copy: int
    outline: Outline


@dataclass(frozen=True)
class Layout:
    """Copies on a strip, in the order of the items: x across from the strip's left edge, y along it from its start."""

    placements: tuple[Placement, ...]
    length_mm: float
    note: str = ""
    """Why outlines were not used although they were asked for; empty otherwise."""


def nest(items: Sequence[Item], *, width_mm: float, rules: GangRules, seed: int) -> Layout:
    """The shorter valid layout of all items on a strip of printable width `width_mm`, within the rule's time.

    The rule's greatest length bounds each item, not the layout. SettingsError where an item is too large for the strip at every
    allowed rotation: preflight finds such artwork, but the film or the rule may have changed since.
    """
    by_boxes = nest_boxes(items, width_mm=width_mm, rules=rules, seed=seed)
    if rules.nest is Nest.BOX or by_boxes.length_mm - least_length(items, width_mm=width_mm, rules=rules) < _WORTH_MM:
        return by_boxes
    placements = _by_outline(items, width_mm=width_mm, rules=rules, seed=seed)
    if placements is None:
        return _noted(by_boxes, "no layout by outlines was found")
    length = max(_extent(item, placement) for item, placement in zip(items, placements, strict=True))
    if length >= by_boxes.length_mm:
        return by_boxes
    area = Area(0.0, 0.0, width_mm, length)
    faults = clearance_faults(placements, [item.outline for item in items], gap_mm=rules.gap, area=area)
    return _noted(by_boxes, "; ".join(faults)) if faults else Layout(placements, length)


def nest_boxes(items: Sequence[Item], *, width_mm: float, rules: GangRules, seed: int, packings: int = boxes.PACKINGS) -> Layout:
    """A layout of the boxes around the items' outlines; SettingsError as `nest`."""
    choices = [_poses(item, width_mm, rules) for item in items]
    packed = boxes.pack(
        [[(pose.width, pose.height) for pose in poses] for poses in choices],
        width_mm=width_mm,
        gap_mm=rules.gap,
        seed=seed,
        packings=packings,
    )
    placements = []
    for item, poses, choice, (x, y) in zip(items, choices, packed.choices, packed.places, strict=True):
        pose = poses[choice]
        placements.append(_placement(item, pose.rotation, x - pose.left, y - pose.top))
    return Layout(tuple(placements), packed.length_mm)


def fits(item: Item, *, width_mm: float, rules: GangRules) -> bool:
    """Whether an item can lie on a strip of this width, no longer than the rule's greatest length, at any allowed rotation."""
    return bool(_fitting(item, width_mm, rules))


def blank_border_mm(outline: Outline, rotation_deg: float) -> float:
    """How far the box around a turned picture reaches past its film, at the side where it does most."""
    _, _, width, height = turned_box(outline.width_mm, outline.height_mm, rotation_deg % 360.0)
    pose = _pose(outline, rotation_deg % 360.0)
    return max(pose.left, pose.top, width - pose.left - pose.width, height - pose.top - pose.height)


def least_length(items: Sequence[Item], *, width_mm: float, rules: GangRules) -> float:
    """A length that no layout of the items can undercut."""
    along = max((min(pose.height for pose in _poses(item, width_mm, rules)) for item in items), default=0.0)
    return max(along, sum(item.outline.taken_mm2(0.0) for item in items) / width_mm)


@dataclass(frozen=True)
class _Pose:
    """An outline at one rotation: the box around it, measured from the top left of the box around the turned picture, mm."""

    rotation: float
    left: float
    top: float
    width: float
    height: float


@lru_cache(maxsize=4096)
def _pose(outline: Outline, rotation: float) -> _Pose:
    left, top, _, _ = turned_box(outline.width_mm, outline.height_mm, rotation)
    ring = turned(outline.ring(), rotation)
    low_x, low_y = ring.min(axis=0)
    high_x, high_y = ring.max(axis=0)
    return _Pose(rotation, float(low_x - left), float(low_y - top), float(high_x - low_x), float(high_y - low_y))


def _poses(item: Item, width_mm: float, rules: GangRules) -> list[_Pose]:
    """The item's outline at every allowed rotation that the strip is wide and long enough for."""
    poses = _fitting(item, width_mm, rules)
    if not poses:
        raise SettingsError(
            f"Copy {item.copy} of {item.job} is too large for a strip of {width_mm:.0f} mm × {rules.max_length:.0f} mm",
            next_step="Use wider film, allow more rotations or a greater length in the rule, or refuse the job",
        )
    return poses


def _fitting(item: Item, width_mm: float, rules: GangRules) -> list[_Pose]:
    poses = (_pose(item.outline, rotation % 360.0) for rotation in rules.rotate or (0.0,))
    return [pose for pose in poses if pose.width <= width_mm + _ROUNDING_MM and pose.height <= rules.max_length + _ROUNDING_MM]


def _placement(item: Item, rotation: float, x: float, y: float) -> Placement:
    _, _, width, height = turned_box(item.outline.width_mm, item.outline.height_mm, rotation)
    return Placement(item.job, item.copy, x, y, width, height, rotation)


def _extent(item: Item, placement: Placement) -> float:
    """How far down the strip a laid outline reaches."""
    pose = _pose(item.outline, placement.rotation_deg)
    return placement.y_mm + pose.top + pose.height


def _noted(layout: Layout, note: str) -> Layout:
    return Layout(layout.placements, layout.length_mm, note)


def _by_outline(items: Sequence[Item], *, width_mm: float, rules: GangRules, seed: int) -> tuple[Placement, ...] | None:
    """Placements of all items by their outlines, the topmost at y = 0; None where the solver gave up."""
    groups: dict[Outline, list[int]] = defaultdict(list)
    for index, item in enumerate(items):
        groups[item.outline].append(index)
    pieces = []
    for number, (outline, members) in enumerate(groups.items()):
        rotations = [pose.rotation for pose in _poses(items[members[0]], width_mm, rules)]
        pieces.append(spyrrow.Item(str(number), [(y, x) for x, y in outline.points], len(members), rotations))
    solution = _solution(pieces, width_mm=width_mm, rules=rules, seed=seed)
    if solution is None:
        return None
    laid: list[list[Placement]] = [[] for _ in pieces]
    members_of = list(groups.values())
    for placed in solution.placed_items:
        kind = int(placed.id)
        laid[kind].append(_on_strip(items[members_of[kind][0]], placed, width_mm=width_mm, rules=rules))
    return _handed_out(items, members_of, laid)


def _solution(
    pieces: Sequence[spyrrow.Item], *, width_mm: float, rules: GangRules, seed: int
) -> spyrrow.StripPackingSolution | None:
    config = spyrrow.StripPackingConfig(
        min_items_separation=rules.gap or None, total_computation_time=max(1, int(rules.seconds)), seed=seed
    )
    strip = spyrrow.StripPackingInstance("strip", width_mm + 2 * (rules.gap + _SLACK_MM), pieces)
    try:
        return strip.solve(config)
    except BaseException as problem:  # the solver's panic is no Exception and has no name to import
        if type(problem).__name__ != "PanicException":
            raise
        return None


def _on_strip(item: Item, placed: spyrrow.PlacedItem, *, width_mm: float, rules: GangRules) -> Placement:
    """A solved piece in strip coordinates. The solver keeps the gap to the strip's edges too: taken off again here."""
    pose = min(_poses(item, width_mm, rules), key=lambda pose: abs((pose.rotation - placed.rotation + 180) % 360 - 180))
    left, top, _, _ = turned_box(item.outline.width_mm, item.outline.height_mm, pose.rotation)
    along, across = placed.translation
    x = across + left - rules.gap - _SLACK_MM
    x = min(max(x, -pose.left), width_mm - pose.left - pose.width)
    return _placement(item, pose.rotation, x, along + top)


def _handed_out(
    items: Sequence[Item], members: Sequence[Sequence[int]], laid: Sequence[Sequence[Placement]]
) -> tuple[Placement, ...]:
    """Places handed to equal items in their order, from the strip's start; all moved so that the topmost outline is at 0."""
    result: dict[int, Placement] = {}
    for indices, places in zip(members, laid, strict=True):
        for index, place in zip(indices, sorted(places, key=lambda place: (place.y_mm, place.x_mm)), strict=True):
            result[index] = replace(place, job=items[index].job, copy=items[index].copy)
    start = min(result[i].y_mm + _pose(item.outline, result[i].rotation_deg).top for i, item in enumerate(items))
    return tuple(replace(result[i], y_mm=result[i].y_mm - start) for i in range(len(items)))
