"""Filling one sheet: which of the waiting copies go on it, oldest first, and where each lies on the film."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import accumulate
from typing import Final

from filmhand.errors import SettingsError
from filmhand.gang.nest import Item, Layout, blank_border_mm, fits, least_length, nest, nest_boxes
from filmhand.gang.outline import Outline
from filmhand.gang.sheet import Placement
from filmhand.printer import Printer
from filmhand.rule_values import Nest
from filmhand.rules import GangRules

_USUAL_DENSITY: Final = 0.8
"""Share of a strip that outlines with half a gap around them usually take up; seen on blobs, see tests/gang."""
_EASY_DENSITY: Final = 0.7
"""Below it all copies are expected to fit: one layout gets all the time."""
_TRIES: Final = 3
_PACKINGS_TO_COUNT: Final = 12
_MOST_REFUSALS: Final = 12
_QUARTER: Final = 90
_CAREFUL: Final = 0.995
"""The next try asks for a little less than the density that the last one reached."""
_ROUNDING_MM: Final = 1e-6


@dataclass(frozen=True)
class Filled:
    """A filled sheet: what lies where in film coordinates, its length with both margins, and what is left for further sheets."""

    placements: tuple[Placement, ...]
    length_mm: float
    left: tuple[Item, ...]
    note: str = ""
    """What an operator may want to know of how it was laid out; empty when nothing."""


@dataclass(frozen=True)
class _Strip:
    """The printable part of a sheet. `rules`: their greatest length is the strip's, without margins."""

    width_mm: float
    rules: GangRules

    @property
    def room_mm2(self) -> float:
        """What outlines with half a gap around them share: the strip's own edges need no gap."""
        return (self.width_mm + self.rules.gap) * (self.rules.max_length + self.rules.gap)


@dataclass(frozen=True)
class _Choice:
    """Copies (places in the waiting line, ascending) and a layout of them that fits the strip."""

    chosen: tuple[int, ...]
    layout: Layout


def fill_sheet(waiting: Sequence[Item], *, printer: Printer, rules: GangRules, seed: int) -> Filled:
    """As many of the waiting copies (oldest first) as one sheet of the greatest length takes.

    The oldest come first; a younger copy passes an older one only into room that the older does not fit. Every copy is either
    placed or left. SettingsError where not one of them fits a sheet; copies that never fit are left while others do.
    """
    angles = _usable(rules.rotate, waiting, printer)
    strip = _strip(printer, rules.model_copy(update={"rotate": angles}))
    able = [place for place, item in enumerate(waiting) if fits(item, width_mm=strip.width_mm, rules=strip.rules)]
    if not able:
        raise SettingsError(
            "None of the waiting copies fits a sheet",
            next_step="Use wider film, allow more rotations or a greater length in the rule, or refuse the jobs",
        )
    items = [waiting[place] for place in able]
    by_boxes = _squeezed(items, _oldest_by_boxes(items, strip, seed), strip, seed)
    choice = _improved(items, by_boxes, strip, seed)
    placed = {able[place] for place in choice.chosen}
    unable, unused = len(waiting) - len(able), sorted(set(rules.rotate) - set(angles))
    notes = (
        choice.layout.note,
        f"{unable} copies fit no sheet" if unable else "",
        f"rotations {unused} are not used: empty corners of turned pictures would lie beyond the film" if unused else "",
    )
    return Filled(
        placements=tuple(
            replace(one, x_mm=one.x_mm + printer.margin, y_mm=one.y_mm + printer.margin) for one in choice.layout.placements
        ),
        length_mm=min(rules.max_length, math.ceil(choice.layout.length_mm + 2 * printer.margin - 1e-6)),
        left=tuple(item for place, item in enumerate(waiting) if place not in placed),
        note="; ".join(note for note in notes if note),
    )


def estimate_length_mm(items: Sequence[Item], *, printer: Printer, rules: GangRules) -> float:
    """About how long a sheet with all these items is, margins included: quick, for deciding when to close it. 0 for none."""
    strip = _strip(printer, rules)
    able = [item for item in items if fits(item, width_mm=strip.width_mm, rules=strip.rules)]
    if not able:
        return 0.0
    length = nest_boxes(able, width_mm=strip.width_mm, rules=strip.rules, seed=0, packings=1).length_mm
    if rules.nest is Nest.OUTLINE:
        taken = sum(item.outline.taken_mm2(rules.gap) for item in able)
        by_area = taken / _USUAL_DENSITY / (strip.width_mm + rules.gap) - rules.gap
        length = min(length, max(by_area, least_length(able, width_mm=strip.width_mm, rules=strip.rules)))
    return length + 2 * printer.margin


def _usable(angles: Sequence[float], items: Sequence[Item], printer: Printer) -> tuple[float, ...]:
    """The rotations at which every picture's box stays on the film: at slant angles its empty corners reach past the art."""
    outlines = {item.outline for item in items}
    return tuple(
        angle
        for angle in angles
        if angle % _QUARTER == 0 or all(blank_border_mm(outline, angle) <= printer.margin for outline in outlines)
    )


def _strip(printer: Printer, rules: GangRules) -> _Strip:
    return _Strip(printer.printable_width, rules.model_copy(update={"max_length": rules.max_length - 2 * printer.margin}))


def _oldest_by_boxes(items: Sequence[Item], strip: _Strip, seed: int) -> _Choice:
    """The most of the oldest copies whose boxes fit the strip: an answer to fall back on."""
    areas = accumulate(_taken(item.outline, 0.0) for item in items)
    low, high = 0, max(1, sum(area <= strip.width_mm * strip.rules.max_length for area in areas))
    count, best = high, Layout((), 0.0)
    while low < high:
        layout = nest_boxes(items[:count], width_mm=strip.width_mm, rules=strip.rules, seed=seed, packings=_PACKINGS_TO_COUNT)
        if layout.length_mm <= strip.rules.max_length + _ROUNDING_MM:
            low, best = count, layout
        else:
            high = count - 1
        count = (low + high + 1) // 2
    return _Choice(tuple(range(low)), best)


def _squeezed(items: Sequence[Item], choice: _Choice, strip: _Strip, seed: int) -> _Choice:
    """Younger copies added as long as their boxes still fit; of equal copies one refusal is enough, and refusals are bounded."""
    refused: set[Outline] = set()
    for place, item in enumerate(items):
        if len(refused) >= _MOST_REFUSALS:
            break
        if place in choice.chosen or item.outline in refused:
            continue
        chosen = tuple(sorted((*choice.chosen, place)))
        layout = nest_boxes(
            [items[one] for one in chosen], width_mm=strip.width_mm, rules=strip.rules, seed=seed, packings=_PACKINGS_TO_COUNT
        )
        if layout.length_mm <= strip.rules.max_length + _ROUNDING_MM:
            choice = _Choice(chosen, layout)
        else:
            refused.add(item.outline)
    return choice


def _improved(items: Sequence[Item], safe: _Choice, strip: _Strip, seed: int) -> _Choice:
    """More copies, or the same on less film: each try takes what its forerunner's density lets expect, within the rule's time."""
    areas = [_taken(item.outline, strip.rules.gap) for item in items]
    is_easy = len(safe.chosen) == len(items) and sum(areas) <= _EASY_DENSITY * strip.room_mm2
    tries = _TRIES if strip.rules.nest is Nest.OUTLINE and not is_easy else 1
    rules = strip.rules.model_copy(update={"seconds": strip.rules.seconds / tries})
    best, tried, density = safe, set[tuple[int, ...]](), _USUAL_DENSITY
    for _ in range(tries):
        chosen = _expected(areas, density * strip.room_mm2)
        if strip.rules.nest is Nest.BOX or _rank(chosen, areas) < _rank(best.chosen, areas):
            chosen = best.chosen
        if chosen in tried:
            break
        tried.add(chosen)
        layout = nest([items[place] for place in chosen], width_mm=strip.width_mm, rules=rules, seed=seed)
        choice = _Choice(chosen, layout)
        density = _CAREFUL * _density(choice, areas, strip)
        if layout.length_mm > strip.rules.max_length + _ROUNDING_MM:
            continue
        if chosen != best.chosen or layout.length_mm < best.layout.length_mm:
            best = choice
    return best


@lru_cache(maxsize=4096)
def _taken(outline: Outline, gap_mm: float) -> float:
    return outline.taken_mm2(gap_mm)


def _density(choice: _Choice, areas: Sequence[float], strip: _Strip) -> float:
    room = (strip.width_mm + strip.rules.gap) * (choice.layout.length_mm + strip.rules.gap)
    return sum(areas[place] for place in choice.chosen) / room


def _expected(areas: Sequence[float], budget_mm2: float) -> tuple[int, ...]:
    """The oldest copies within a budget of area, then younger ones small enough for what is left of it; at least the oldest."""
    chosen, left = [0], budget_mm2 - areas[0]
    for place, area in enumerate(areas[1:], 1):
        if area <= left:
            chosen.append(place)
            left -= area
    return tuple(chosen)


def _rank(chosen: Sequence[int], areas: Sequence[float]) -> tuple[int, float]:
    """The longer unbroken row of oldest copies is better, then the more area."""
    unbroken = next((row for row, place in enumerate(chosen) if row != place), len(chosen))
    return unbroken, sum(areas[place] for place in chosen)
