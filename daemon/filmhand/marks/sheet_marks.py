"""All marks of a sheet: labels, header, registration marks, trim frames; and how much film they need at its ends."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Final

from filmhand import units
from filmhand.gang.sheet import Placement, Sheet
from filmhand.marks.box import Box
from filmhand.marks.frames import frame_lines
from filmhand.marks.header import HEADER_MM, Header
from filmhand.marks.label import Label
from filmhand.marks.mark import Drawing, Mark, Solid
from filmhand.marks.registration import REGISTRATION_MM, Registration
from filmhand.rules import WHITE, GangRules, Printer

_BESIDE_MM: Final = 3.0
"""Between a registration mark and the header."""


@dataclass(frozen=True)
class LabelFacts:
    """What a copy's label says beside what its placement knows. `parts`: pieces that the design lies in, 0 for one."""

    order: str
    copies: int
    parts: int = 0


def head_mm(rules: GangRules) -> float:
    """Film that the marks at the sheet's start take from the copies, half a gap included; 0 without any."""
    return _head(rules) + rules.gap / 2 if _head(rules) else 0.0


def foot_mm(rules: GangRules) -> float:
    """The same at its end."""
    return _foot(rules) + rules.gap / 2 if _foot(rules) else 0.0


def marks_for(
    sheet: Sheet,
    labels: Mapping[tuple[str, int], LabelFacts],
    *,
    printer: Printer,
    rules: GangRules,
    title: str,
    at: str,
) -> tuple[Mark, ...]:
    """What is printed beside the copies of a sheet, as its rules say; labels where the placements have room for one.

    `labels`: by job and copy; `title`: the rule's; `at`: when the sheet was made, as people read it.
    """
    wanted, resolution = rules.marks, printer.resolution
    place = partial(_placed, resolution=resolution)
    facts = (at, title, f"{sheet.film_width_mm:.0f} × {sheet.length_mm:.0f} mm", printer.name)
    header = Header(sheet.name, tuple(fact for fact in facts if fact), resolution, printer.mirror)
    marks = [
        place(Box.of(item.label), (WHITE,), _label(sheet, item, labels[item.job, item.copy], printer))
        for item in sheet.placements
        if item.label is not None
    ]
    if wanted.header:
        marks.append(place(_header_box(sheet, printer, beside_registration=wanted.registration), (WHITE,), header))
    if wanted.registration:
        marks += [place(box, printer.planes, Registration(resolution)) for box in _registration_boxes(sheet, printer)]
    if wanted.trim:
        marks += [place(box, (WHITE,), Solid()) for box in _frames(sheet, printer, rules)]
    return tuple(marks)


def _head(rules: GangRules) -> float:
    """Length of the strip at the sheet's start."""
    return max(HEADER_MM * rules.marks.header, REGISTRATION_MM * rules.marks.registration)


def _foot(rules: GangRules) -> float:
    """Length of the strip at its end."""
    return REGISTRATION_MM * rules.marks.registration


def _label(sheet: Sheet, item: Placement, facts: LabelFacts, printer: Printer) -> Label:
    return Label(
        facts.order,
        copy=item.copy,
        copies=facts.copies,
        part=item.part,
        parts=facts.parts,
        sheet=sheet.name,
        job=item.job,
        resolution=printer.resolution,
        mirrored=printer.mirror,
        rotation_deg=item.label.rotation_deg if item.label else 0.0,
    )


def _area(sheet: Sheet, printer: Printer) -> Box:
    """What lies between the margins."""
    return Box(0.0, 0.0, sheet.film_width_mm, sheet.length_mm).grown(-printer.margin)


def _header_box(sheet: Sheet, printer: Printer, *, beside_registration: bool) -> Box:
    area = _area(sheet, printer)
    aside = REGISTRATION_MM + _BESIDE_MM if beside_registration else 0.0
    return Box(area.left + aside, area.top, area.right - aside, area.top + HEADER_MM)


def _registration_boxes(sheet: Sheet, printer: Printer) -> Iterator[Box]:
    """The four corners of the printable area."""
    area = _area(sheet, printer)
    for left in (area.left, area.right - REGISTRATION_MM):
        for top in (area.top, area.bottom - REGISTRATION_MM):
            yield Box(left, top, left + REGISTRATION_MM, top + REGISTRATION_MM)


def _frames(sheet: Sheet, printer: Printer, rules: GangRules) -> Iterator[Box]:
    """Off the strips at both ends: the empty corners of slanting copies may reach into them."""
    copies = [Box.of(item) for item in sheet.placements]
    labels = [Box.of(item.label) for item in sheet.placements if item.label is not None]
    area = _area(sheet, printer)
    area = replace(area, top=area.top + _head(rules), bottom=area.bottom - _foot(rules))
    return frame_lines(copies, labels, gap_mm=rules.gap, area=area)


def _placed(box: Box, planes: tuple[str, ...], drawing: Drawing, *, resolution: tuple[int, int]) -> Mark:
    """A mark in whole dots: its place and its size rounded apart, so that equal marks have equal dots."""
    across, down = resolution
    return Mark(
        left=round(units.mm_to_px(box.left, across)),
        top=round(units.mm_to_px(box.top, down)),
        width=max(1, round(units.mm_to_px(box.right - box.left, across))),
        height=max(1, round(units.mm_to_px(box.bottom - box.top, down))),
        planes=planes,
        drawing=drawing,
    )
