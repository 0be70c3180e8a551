"""What the operator's sheet says, gathered from a sheet's ticket: figures, orders to pick, remarks, press settings. Pure."""

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import groupby
from typing import Any, Final

from filmhand.delivery.operator.legible import legible
from filmhand.delivery.operator.numbers import Numbered, numbered
from filmhand.delivery.operator.sayings import SAYS
from filmhand.gang_rules import PressRules
from filmhand.words import Words

MOST_BOXES: Final = 24
"""Copies of a design that each get a box to tick; more are counted."""

_MOST_WORDS: Final = 2000
"""Signs of a note or a finding."""

_LEAST_SKEW: Final = 0.1
"""Nearer to 45° any picture's box is about as wide as it is high, and tells nothing of its proportions."""

_NB: Final = "\xa0"


@dataclass(frozen=True)
class Fact:
    """A figure with what it is called; an empty value is one that nobody stated."""

    label: str
    value: str


@dataclass(frozen=True)
class Line:
    """A line of the pick list: the copies of one design."""

    file: str
    garment: str
    garment_name: str
    size: str
    pieces: int
    copies: int
    elsewhere: int
    """Copies ordered that do not lie on this sheet."""
    numbers: str
    ticks: tuple[int, ...]
    """The numbers that have a box each; none where there are too many."""


@dataclass(frozen=True)
class Order:
    """An order's share of a sheet. `name` is empty for work without an order, `due` where nobody said when."""

    name: str
    is_rush: bool
    due: str
    copies: int
    lines: tuple[Line, ...]


@dataclass(frozen=True)
class Remark:
    """A finding that only warned, on copies that are printed all the same."""

    message: str
    file: str
    numbers: str


@dataclass(frozen=True)
class SheetFacts:
    """All that is said of a sheet. `why`: the reason for this film, if the ticket gives one."""

    sheet: str
    printer: str
    is_mirrored: bool
    width_mm: float
    length_mm: float
    copies: int
    why: str
    figures: tuple[Fact, ...]
    press: tuple[Fact, ...]
    press_note: str
    orders: tuple[Order, ...]
    remarks: tuple[Remark, ...]
    numbered: tuple[Numbered, ...]


def facts_of(ticket: Mapping[str, Any], press: PressRules) -> SheetFacts:
    """A sheet's ticket as delivery/sheet_ticket.py makes it. Every text comes out legible."""
    numbers = numbered(ticket)
    by_job: dict[str, list[Numbered]] = {}
    for one in numbers:
        by_job.setdefault(one.job, []).append(one)
    copies = len({one.number for one in numbers})
    return SheetFacts(
        sheet=legible(ticket["sheet"]),
        printer=legible(ticket["printer"]),
        is_mirrored=ticket["mirrored"],
        width_mm=ticket["film_width_mm"],
        length_mm=ticket["length_mm"],
        copies=copies,
        why=legible((ticket.get("film") or {}).get("why") or ""),
        figures=tuple(_figures(ticket, copies, len(by_job))),
        press=tuple(Fact(SAYS[key], legible(getattr(press, key))) for key in ("temperature", "time", "pressure", "peel")),
        press_note=legible(press.note, most=_MOST_WORDS),
        orders=tuple(_orders(ticket, by_job)),
        remarks=tuple(_remarks(ticket, by_job)),
        numbered=numbers,
    )


def _figures(ticket: Mapping[str, Any], copies: int, designs: int) -> Iterator[Fact]:
    """Largest first; what the ticket does not know is left out."""
    estimate = ticket["estimate"]
    yield Fact(SAYS["film"], f"{ticket['film_width_mm']:.0f}{_NB}mm ×{_NB}{ticket['length_mm'] / 1000:.2f}{_NB}m")
    yield Fact(SAYS["area"], f"{estimate['film_m2']:.2f}{_NB}m²")
    yield Fact(SAYS["copies"], f"{copies}")
    yield Fact(SAYS["designs"], f"{designs}")
    passes = ticket.get("passes") or estimate.get("passes")
    if passes is not None:
        yield Fact(SAYS["passes"], f"{passes}")
    if estimate.get("minutes") is not None:
        yield Fact(SAYS["minutes"], f"{max(1, round(estimate['minutes']))}{_NB}min")
    yield Fact(SAYS["powder"], f"{estimate['powder_g']:.0f}{_NB}g")


def _orders(ticket: Mapping[str, Any], by_job: Mapping[str, Sequence[Numbered]]) -> Iterator[Order]:
    """In the order of the numbers."""
    placements: dict[str, list[Mapping[str, Any]]] = {}
    for item in ticket["placements"]:
        placements.setdefault(item["job"], []).append(item)

    def key(job: str) -> tuple[Any, ...]:
        item = placements[job][0]
        return item.get("order"), bool(item.get("rush")), item.get("due")

    for (name, is_rush, due), jobs in groupby(by_job, key):
        lines = tuple(_line(placements[job], by_job[job]) for job in jobs)
        yield Order("" if name is None else legible(name), is_rush, _due(due), sum(line.copies for line in lines), lines)


def _line(items: Sequence[Mapping[str, Any]], copies: Sequence[Numbered]) -> Line:
    numbers = sorted({one.number for one in copies})
    pieces = {item.get("part", 0): item for item in items}
    first = items[0]
    return Line(
        file=legible(first["file"]),
        garment=first["garment"],
        garment_name=legible(first.get("garment_name") or ""),
        size=", ".join(_size(pieces[part]) for part in sorted(pieces)),
        pieces=len(pieces),
        copies=len(numbers),
        elsewhere=max(0, first["copies"] - len(numbers)),
        numbers=_runs(numbers),
        ticks=tuple(numbers) if len(numbers) <= MOST_BOXES else (),
    )


def _size(item: Mapping[str, Any]) -> str:
    """Width and height as the picture stands upright, from the box around it as it lies turned."""
    turn = math.radians(item["rotation_deg"])
    cos, sin = abs(math.cos(turn)), abs(math.sin(turn))
    box = item["width_mm"], item["height_mm"]
    skew = cos * cos - sin * sin
    if abs(skew) < _LEAST_SKEW:
        return f"≤{_NB}{box[0]:.0f}{_NB}×{_NB}{box[1]:.0f}{_NB}mm"
    width, height = ((box[k] * cos - box[1 - k] * sin) / skew for k in (0, 1))
    return f"{width:.0f}{_NB}×{_NB}{height:.0f}{_NB}mm"


def _runs(numbers: Iterable[int]) -> str:
    """1, 2, 3, 7 → "1–3, 7"."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    return ", ".join(f"{first}" if first == last else f"{first}–{last}" for first, last in runs)


def _due(due: str | None) -> str:
    """As people write it; as it is where it is no time."""
    if not due:
        return ""
    try:
        return f"{datetime.fromisoformat(due):%d %B %Y, %H:%M}".lstrip("0")
    except ValueError:
        return legible(due)


def _remarks(ticket: Mapping[str, Any], by_job: Mapping[str, Sequence[Numbered]]) -> Iterator[Remark]:
    """Warnings, in the order of the numbers they are about."""
    for job, copies in by_job.items():
        for finding in ticket["findings"]:
            if finding["job"] == job and finding["severity"] == "warn":
                message = legible(Words.from_json(finding["message"]), most=_MOST_WORDS)
                yield Remark(message, legible(finding["file"]), _runs(sorted({one.number for one in copies})))
