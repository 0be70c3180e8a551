"""Filling one sheet: which of the waiting copies go on it, the most urgent first, and where each lies on the film."""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import accumulate, groupby
from typing import Final

from filmhand.errors import SettingsError
from filmhand.gang.labelled import Room
from filmhand.gang.layout_key import layout_key
from filmhand.gang.nest import Item, Layout, fits, least_length, nest, nest_boxes
from filmhand.gang.outline import Outline
from filmhand.gang.sheet import Placement
from filmhand.marks.sheet_marks import foot_mm, head_mm
from filmhand.printer import Printer
from filmhand.rule_values import Nest
from filmhand.rules import GangRules

_USUAL_DENSITY: Final = 0.8
"""Share of a strip that outlines with half a gap around them usually take up; seen on blobs, see tests/gang."""
_EASY_DENSITY: Final = 0.7
"""Below it all copies are expected to fit: one layout gets all the time."""
_TRIES: Final = 3
_TRIES_IN_HASTE: Final = 2
_AT_LEISURE: Final = 5
"""Sheets that may each take all of the rule's time; where more wait, they share the time of so many."""
_WORTH_A_TRY_S: Final = 2.0
_PACKINGS_TO_COUNT: Final = 12
_MOST_REFUSALS: Final = 12
_CAREFUL: Final = 0.995
"""The next try asks for a little less than the density that the last one reached."""
_ROUNDING_MM: Final = 1e-6
_QUARTER, _HALF_TURN = 90, 180

Copy = tuple[Item, ...]
"""A copy's pieces: one where its design lies in one. They go on a sheet together."""


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
    """The part of a sheet for copies; `left`, `top`: where it begins. The rules' greatest length is the strip's own."""

    left: float
    top: float
    width_mm: float
    ends_mm: float
    """Length of film at both ends that is no part of it."""
    rules: GangRules
    tries: int
    """Layouts by outlines that may be tried, within the rules' time."""

    @property
    def room_mm2(self) -> float:
        """What outlines with half a gap around them share: the strip's own edges need no gap."""
        return (self.width_mm + self.rules.gap) * (self.rules.max_length + self.rules.gap)


@dataclass(frozen=True)
class _Choice:
    """Copies (places in the waiting line, ascending) and a layout of all their pieces that fits the strip."""

    chosen: tuple[int, ...]
    layout: Layout


def fill_sheet(waiting: Sequence[Item], *, printer: Printer, rules: GangRules, seed: int, clock: Callable[[], float]) -> Filled:
    """As many of the waiting copies (the most urgent first, pieces of one together) as one sheet of the greatest length takes.

    The first come first; a later copy passes an earlier one only into room that the earlier does not fit. Every copy is either
    placed or left. SettingsError where not one of them fits a sheet; copies that never fit are left while others do.
    `clock`: tells seconds; the rule gives a sheet so many.
    """
    strip = _strip(printer, rules)
    copies = [tuple(pieces) for _, pieces in groupby(waiting, key=lambda item: (item.job, item.copy))]
    able = [place for place, copy in enumerate(copies) if all(_fits(item, strip) for item in copy)]
    if not able:
        raise SettingsError(
            "None of the waiting copies fits a sheet",
            next_step="Use wider film, allow more rotations or a greater length in the rule, or refuse the jobs",
        )
    fitting = [copies[place] for place in able]
    strip = _in_haste(strip, fitting)
    by_boxes = _squeezed(fitting, _first_by_boxes(fitting, strip, seed), strip, seed)
    choice = _improved(fitting, by_boxes, strip, seed, clock)
    placed = {able[place] for place in choice.chosen}
    unable = len(copies) - len(able)
    notes = (choice.layout.note, f"{unable} copies fit no sheet" if unable else "")
    return Filled(
        placements=tuple(replace(one, x_mm=one.x_mm + strip.left, y_mm=one.y_mm + strip.top) for one in choice.layout.placements),
        length_mm=min(rules.max_length, math.ceil(choice.layout.length_mm + strip.ends_mm - _ROUNDING_MM)),
        left=_pieces(copy for place, copy in enumerate(copies) if place not in placed),
        note="; ".join(note for note in notes if note),
    )


def sheet_key(waiting: Sequence[Item], *, printer: Printer, rules: GangRules, seed: int) -> str:
    """A name for what `fill_sheet` makes of these, before it is made: letters, figures, dots and dashes."""
    strip = _strip(printer, rules)
    key = layout_key(waiting, width_mm=strip.width_mm, rules=strip.rules, seed=seed)
    return f"{key}-{strip.left:.3f}-{strip.top:.3f}"


def label_room(printer: Printer, rules: GangRules) -> Room:
    """What a copy with its label beside it must fit."""
    strip = _strip(printer, rules)
    turns = any(angle % _HALF_TURN == _QUARTER for angle in rules.rotate)
    return Room(strip.width_mm, strip.rules.max_length, turns=turns)


def fits_sheet(item: Item, *, printer: Printer, rules: GangRules) -> bool:
    """Whether a piece fits a sheet on the film in the printer at all."""
    return _fits(item, _strip(printer, rules))


def estimate_length_mm(items: Sequence[Item], *, printer: Printer, rules: GangRules) -> float:
    """About how long a sheet with all these items is, margins included: quick, for deciding when to close it. 0 for none."""
    strip = _strip(printer, rules)
    able = [item for item in items if _fits(item, strip)]
    if not able:
        return 0.0
    length = nest_boxes(able, width_mm=strip.width_mm, rules=strip.rules, seed=0, packings=1).length_mm
    if rules.nest is Nest.OUTLINE:
        taken = sum(_taken(item.outline, rules.gap) for item in able)
        by_area = taken / _USUAL_DENSITY / (strip.width_mm + rules.gap) - rules.gap
        length = min(length, max(by_area, least_length(able, width_mm=strip.width_mm, rules=strip.rules)))
    return length + strip.ends_mm


def _strip(printer: Printer, rules: GangRules) -> _Strip:
    head, foot = head_mm(rules), foot_mm(rules)
    ends = 2 * printer.margin + head + foot
    return _Strip(
        left=printer.margin,
        top=printer.margin + head,
        width_mm=printer.printable_width,
        ends_mm=ends,
        rules=rules.model_copy(update={"max_length": rules.max_length - ends}),
        tries=_TRIES,
    )


def _in_haste(strip: _Strip, copies: Sequence[Copy]) -> _Strip:
    """The strip with less time where many sheets wait: about as much for all of them as a few may take at leisure."""
    area = sum(_area(copy, strip.rules.gap) for copy in copies)
    sheets = area / (_USUAL_DENSITY * strip.room_mm2)
    if sheets <= _AT_LEISURE:
        return strip
    seconds = strip.rules.seconds * _AT_LEISURE / sheets
    return replace(strip, rules=strip.rules.model_copy(update={"seconds": seconds}), tries=_TRIES_IN_HASTE)


def _fits(item: Item, strip: _Strip) -> bool:
    return fits(item, width_mm=strip.width_mm, rules=strip.rules)


def _pieces(copies: Iterable[Copy]) -> tuple[Item, ...]:
    return tuple(item for copy in copies for item in copy)


def _by_boxes(copies: Iterable[Copy], strip: _Strip, seed: int) -> Layout:
    items = _pieces(copies)
    return nest_boxes(items, width_mm=strip.width_mm, rules=strip.rules, seed=seed, packings=_PACKINGS_TO_COUNT)


def _is_on_strip(layout: Layout, strip: _Strip) -> bool:
    return layout.length_mm <= strip.rules.max_length + _ROUNDING_MM


def _first_by_boxes(copies: Sequence[Copy], strip: _Strip, seed: int) -> _Choice:
    """The most of the first copies whose boxes fit the strip: an answer to fall back on."""
    areas = accumulate(_area(copy, 0.0) for copy in copies)
    low, high = 0, max(1, sum(area <= strip.width_mm * strip.rules.max_length for area in areas))
    count, best = high, Layout((), 0.0)
    while low < high:
        layout = _by_boxes(copies[:count], strip, seed)
        if _is_on_strip(layout, strip):
            low, best = count, layout
        else:
            high = count - 1
        count = (low + high + 1) // 2
    return _Choice(tuple(range(low)), best)


def _squeezed(copies: Sequence[Copy], choice: _Choice, strip: _Strip, seed: int) -> _Choice:
    """Later copies added as long as their boxes still fit; of equal copies one refusal is enough, and refusals are bounded."""
    refused: set[tuple[Outline, ...]] = set()
    for place, copy in enumerate(copies):
        if len(refused) >= _MOST_REFUSALS:
            break
        kind = tuple(item.outline for item in copy)
        if place in choice.chosen or kind in refused:
            continue
        chosen = tuple(sorted((*choice.chosen, place)))
        layout = _by_boxes((copies[one] for one in chosen), strip, seed)
        if _is_on_strip(layout, strip):
            choice = _Choice(chosen, layout)
        else:
            refused.add(kind)
    return choice


def _improved(copies: Sequence[Copy], safe: _Choice, strip: _Strip, seed: int, clock: Callable[[], float]) -> _Choice:
    """More copies, or the same on less film: each try takes what its forerunner's density lets expect, within the rule's time."""
    areas = [_area(copy, strip.rules.gap) for copy in copies]
    is_easy = len(safe.chosen) == len(copies) and sum(areas) <= _EASY_DENSITY * strip.room_mm2
    tries = strip.tries if strip.rules.nest is Nest.OUTLINE and not is_easy else 1
    best, tried, density = safe, set[tuple[int, ...]](), _USUAL_DENSITY
    ends, least_s = clock() + strip.rules.seconds, min(_WORTH_A_TRY_S, strip.rules.seconds / tries)
    for left in range(tries, 0, -1):
        seconds = (ends - clock()) / left
        if best is not safe and seconds < least_s:
            break
        chosen = _expected(areas, density * strip.room_mm2)
        if strip.rules.nest is Nest.BOX or _rank(chosen, areas) < _rank(best.chosen, areas):
            chosen = best.chosen
        if chosen in tried:
            break
        tried.add(chosen)
        rules = strip.rules.model_copy(update={"seconds": max(seconds, least_s)})
        layout = nest(_pieces(copies[place] for place in chosen), width_mm=strip.width_mm, rules=rules, seed=seed)
        choice = _Choice(chosen, layout)
        density = _CAREFUL * _density(choice, areas, strip)
        if not _is_on_strip(layout, strip):
            continue
        if chosen != best.chosen or layout.length_mm < best.layout.length_mm:
            best = choice
    return best


def _area(copy: Copy, gap_mm: float) -> float:
    return sum(_taken(item.outline, gap_mm) for item in copy)


@lru_cache(maxsize=4096)
def _taken(outline: Outline, gap_mm: float) -> float:
    return outline.taken_mm2(gap_mm)


def _density(choice: _Choice, areas: Sequence[float], strip: _Strip) -> float:
    room = (strip.width_mm + strip.rules.gap) * (choice.layout.length_mm + strip.rules.gap)
    return sum(areas[place] for place in choice.chosen) / room


def _expected(areas: Sequence[float], budget_mm2: float) -> tuple[int, ...]:
    """The first copies within a budget of area, then later ones small enough for what is left of it; at least the first."""
    chosen, left = [0], budget_mm2 - areas[0]
    for place, area in enumerate(areas[1:], 1):
        if area <= left:
            chosen.append(place)
            left -= area
    return tuple(chosen)


def _rank(chosen: Sequence[int], areas: Sequence[float]) -> tuple[int, float]:
    """The longer unbroken row of first copies is better, then the more area."""
    unbroken = next((row for row, place in enumerate(chosen) if row != place), len(chosen))
    return unbroken, sum(areas[place] for place in chosen)
