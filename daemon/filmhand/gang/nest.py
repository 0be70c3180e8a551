"""Laying copies on a strip of film: by boxes first, so that there is always an answer, then by outlines if that is shorter.

With outlines, small copies go into the holes of others first; a host with its guests is one piece from then on.
"""

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from filmhand.errors import SettingsError
from filmhand.gang import boxes, by_outline
from filmhand.gang.clearance import Area, clearance_faults
from filmhand.gang.holes import Guest, guests_in
from filmhand.gang.outline import Outline
from filmhand.gang.poses import Place, Pose, extent_mm, fitting, origin_of, place_at
from filmhand.gang.sheet import Placement
from filmhand.gang.turn import turned, turned_box
from filmhand.rules import GangRules, Nest

_AMPLE_S: Final = 20.0
"""With less time than this for outlines, fewer packings of boxes are tried beside them."""
_WORTH_MM: Final = 0.5
"""Film saved that makes outlines worth looking for."""
_ANGLE_DIGITS: Final = 6


@dataclass(frozen=True)
class Item:
    """One copy to be laid; its outline is already mirrored where the printer mirrors."""

    job: str
    copy: int
    outline: Outline
    part: int = 0
    """Which piece of the copy, from 1; 0 where its design lies in one."""


@dataclass(frozen=True)
class Layout:
    """Copies on a strip, in the order of the items: x across from the strip's left edge, y along it from its start."""

    placements: tuple[Placement, ...]
    length_mm: float
    note: str = ""
    """Why outlines were not used although they were asked for; empty otherwise."""


def nest(items: Sequence[Item], *, width_mm: float, rules: GangRules, seed: int) -> Layout:
    """The shortest valid layout found of all items on a strip of printable width `width_mm`, within the rule's time.

    The rule's greatest length bounds each item, not the layout. SettingsError where an item is too large for the strip at every
    allowed rotation: preflight finds such artwork, but the film or the rule may have changed since. The same items, rules and
    seed give the same boxes, but the same outlines only if the solver ended before its time: keep layouts by `layout_key`.
    """
    packings = boxes.PACKINGS if rules.nest is Nest.BOX else round(boxes.PACKINGS * min(1.0, rules.seconds / _AMPLE_S) ** 2)
    by_boxes = nest_boxes(items, width_mm=width_mm, rules=rules, seed=seed, packings=packings)
    if rules.nest is Nest.BOX or not items:
        return by_boxes
    guests = guests_in([item.outline for item in items], rules=rules) if rules.inside else {}
    inside = {guest.index for laid in guests.values() for guest in laid}
    hosts = [item for index, item in enumerate(items) if index not in inside]
    with_guests = nest_boxes(hosts, width_mm=width_mm, rules=rules, seed=seed, packings=packings) if guests else by_boxes
    found = [[_place(one) for one in with_guests.placements]] if guests else []
    note = ""
    if with_guests.length_mm - least_length(hosts, width_mm=width_mm, rules=rules) >= _WORTH_MM:
        outlines = [item.outline for item in hosts]
        places = by_outline.nested(outlines, width_mm=width_mm, rules=rules, seed=seed)
        note = "" if places else "no layout by outlines was found"
        found += [places] if places else []
    layouts = [_laid_out(items, places, guests) for places in found]
    return _best(items, replace(by_boxes, note=note), layouts, width_mm=width_mm, gap_mm=rules.gap)


def nest_boxes(items: Sequence[Item], *, width_mm: float, rules: GangRules, seed: int, packings: int = boxes.PACKINGS) -> Layout:
    """A layout of the boxes around the items' outlines; SettingsError as `nest`."""
    choices = [_least_boxes(_poses(item, width_mm, rules)) for item in items]
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
        placements.append(_placement(item, Place(x - pose.left, y - pose.top, pose.rotation)))
    return Layout(tuple(placements), packed.length_mm)


def fits(item: Item, *, width_mm: float, rules: GangRules) -> bool:
    """Whether an item can lie on a strip of this width, no longer than the rule's greatest length, at any allowed rotation."""
    return bool(fitting(item.outline, width_mm=width_mm, rules=rules))


def least_length(items: Sequence[Item], *, width_mm: float, rules: GangRules) -> float:
    """A length that no layout of the items can undercut, unless some lie inside others."""
    along = max((min(pose.height for pose in _poses(item, width_mm, rules)) for item in items), default=0.0)
    return max(along, sum(item.outline.taken_mm2(0.0) for item in items) / width_mm)


def _poses(item: Item, width_mm: float, rules: GangRules) -> list[Pose]:
    """The item's outline at every allowed rotation that the strip is wide and long enough for."""
    poses = fitting(item.outline, width_mm=width_mm, rules=rules)
    if not poses:
        raise SettingsError(
            f"Copy {item.copy} of {item.job} is too large for a strip of {width_mm:.0f} mm × {rules.max_length:.0f} mm",
            next_step="Use wider film, allow more rotations or a greater length in the rule, or refuse the job",
        )
    return poses


def _least_boxes(poses: Sequence[Pose]) -> list[Pose]:
    """The poses whose box is not larger both ways than another's, each box once."""
    least: list[Pose] = []
    for pose in sorted(poses, key=lambda pose: (round(pose.width, 6), round(pose.height, 6))):
        if not least or round(pose.height, 6) < round(least[-1].height, 6):
            least.append(pose)
    return least


def _placement(item: Item, place: Place) -> Placement:
    _, _, width, height = turned_box(item.outline.width_mm, item.outline.height_mm, place.rotation_deg)
    return Placement(item.job, item.copy, place.x_mm, place.y_mm, width, height, place.rotation_deg, item.part)


def _place(placement: Placement) -> Place:
    return Place(placement.x_mm, placement.y_mm, placement.rotation_deg)


def _laid_out(items: Sequence[Item], places: Sequence[Place], guests: Mapping[int, Sequence[Guest]]) -> Layout:
    """A layout of all items, from the places of those that lie in no other, in their order.

    Of equal outlines the first items lie nearest the strip's start, be it inside others.
    """
    inside = {guest.index for laid in guests.values() for guest in laid}
    hosts = (index for index in range(len(items)) if index not in inside)
    laid: dict[int, Place] = {}
    for host, place in zip(hosts, places, strict=True):
        laid |= {host: place} | dict(_inside(items, host, place, guests))
    kinds: dict[Outline, list[int]] = defaultdict(list)
    for index, item in enumerate(items):
        kinds[item.outline].append(index)
    placements: dict[int, Placement] = {}
    for members in kinds.values():
        in_order = sorted((laid[member] for member in members), key=lambda place: (place.y_mm, place.x_mm))
        placements |= {member: _placement(items[member], place) for member, place in zip(members, in_order, strict=True)}
    length = max(extent_mm(items[index].outline, place) for index, place in laid.items())
    return Layout(tuple(placements[index] for index in range(len(items))), length)


def _inside(items: Sequence[Item], host: int, place: Place, guests: Mapping[int, Sequence[Guest]]) -> Iterator[tuple[int, Place]]:
    """Where the guests of a laid host come to lie, and theirs in turn."""
    for guest in guests.get(host, ()):
        origin = origin_of(items[host].outline, place) + turned(np.array([guest.x_mm, guest.y_mm]), place.rotation_deg)
        rotation = round(place.rotation_deg + guest.rotation_deg, _ANGLE_DIGITS) % 360.0
        at = place_at(items[guest.index].outline, origin, rotation)
        yield guest.index, at
        yield from _inside(items, guest.index, at, guests)


def _best(items: Sequence[Item], safe: Layout, found: Sequence[Layout], *, width_mm: float, gap_mm: float) -> Layout:
    """The shortest layout that the check on pixels finds no fault with; `safe` needs no check, and says why it was taken."""
    notes = [safe.note] if safe.note else []
    outlines = [item.outline for item in items]
    for layout in sorted(found, key=lambda layout: layout.length_mm):
        if layout.length_mm >= safe.length_mm:
            break
        area = Area(0.0, 0.0, width_mm, layout.length_mm)
        faults = clearance_faults(layout.placements, outlines, gap_mm=gap_mm, area=area)
        if not faults:
            return layout
        notes += faults
    return replace(safe, note="; ".join(notes))
