"""What somebody wrote, and what the file's name and the rule add, into one ticket. Pure.

Whoever reads an order list, a ticket file or a job of another program brings what it says as a `Statement`; what it means, which
of two statements wins, and what cannot be followed is decided here alone.
"""

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import PurePath
from typing import Any, Final

from pydantic import ValidationError

from filmhand.intake.ticket import Ordered, Ticket
from filmhand.intake.wardrobe import Garment, Named, Place, Tables
from filmhand.preflight.finding import Finding, Severity
from filmhand.rule_values import parse_hex
from filmhand.rules import Rule
from filmhand.words import Phrase, Words

TICKET: Final = "ticket"

FILE_NAME: Final = Phrase("file name")
_CANNOT: Final = Phrase("The order cannot be followed ({where}): {what}.")
_CORRECT: Final = Phrase("Please correct the order and send it again with the artwork.")
_UNEXPECTED: Final = Phrase("{key} is “{written}”, but should be {expected}")
_NO_KEY: Final = Phrase("it says “{key}”, but a ticket has only {known}")
_NO_GARMENT: Final = Phrase("the garment “{written}” is not one of the shop's")
_NEAR_GARMENT: Final = Phrase("the garment “{written}” is not one of the shop's; like it are {near}")
_NO_PLACE: Final = Phrase("no size is given, and “{written}” is not one of the shop's placements")
_NEAR_PLACE: Final = Phrase("no size is given, and “{written}” is not one of the shop's placements; like it are {near}")

_EXPECTED: Final[Mapping[str, Phrase]] = {
    "copies": Phrase("a whole number from 1 to 100000"),
    "width": Phrase("a length with its unit, such as 280 mm or 11 in"),
    "height": Phrase("a length with its unit, such as 280 mm or 11 in"),
    "garment": Phrase("a colour as # and six digits of 0-9 and a-f, or the shop's name of a garment"),
    "due": Phrase("a date such as 2031-03-14, or with a time, 2031-03-14T18:00"),
    "rush": Phrase("true or false"),
    "language": Phrase("a language's code, such as en, de or es"),
}
_SHORT_TEXT: Final = Phrase("a short text, in a ticket file between quotation marks")
_SHOWN: Final = 60
"""Most letters of what somebody wrote that a finding repeats."""


@dataclass(frozen=True)
class Statement:
    """What one source says: values under the keys of a ticket file, what it calls them, and where a person finds it."""

    where: Words
    values: Mapping[str, Any]
    names: Mapping[str, str] = field(default_factory=dict)

    def refused(self, what: Words) -> Finding:
        """The finding, held for a person, that this cannot be followed."""
        return Finding(TICKET, Severity.HOLD, _CANNOT(where=self.where, what=what), _CORRECT())


@dataclass(frozen=True)
class _Said:
    """A statement that can be followed."""

    source: Statement
    values: Ordered


def ordered(written: Statement, *, name: str, rule: Rule, tables: Tables) -> Ticket | Finding:
    """What is ordered of the artwork with this file name: as written, else as its name says, else by the rule.

    Width and height go together: whoever states one states the whole size. A size that is stated goes before the placement's.
    """
    said: list[_Said] = []
    for source in (written, Statement(FILE_NAME(), _named(PurePath(name).stem, rule))):
        checked = _checked(source)
        if isinstance(checked, Finding):
            return checked
        said.append(_Said(source, checked))
    garment = _garment(said, tables.garments)
    if isinstance(garment, Finding):
        return garment
    size = _size(said, tables.placements)
    if isinstance(size, Finding):
        return size
    values = {"copies": rule.ticket.copies, "garment": rule.garment}
    for one in reversed(said):
        values |= {key: value for key, value in one.values if value is not None}
    return Ticket.model_construct(**{**dict(Ticket()), **values, **garment, **size})


def _named(stem: str, rule: Rule) -> Mapping[str, str]:
    """What the rule's pattern finds in the file name; a name that does not match says nothing."""
    match = re.search(rule.ticket.filename, stem) if rule.ticket.filename else None
    return {} if match is None else {key: value for key, value in match.groupdict().items() if value}


def _checked(source: Statement) -> Ordered | Finding:
    try:
        return Ordered.model_validate(source.values)
    except ValidationError as problem:
        error = problem.errors()[0]
    key = str(error["loc"][0]) if error["loc"] else ""
    if error["type"] == "extra_forbidden":
        return source.refused(_NO_KEY(key=_cut(key), known=", ".join(Ordered.model_fields)))
    return _unexpected(source, key, error["input"])


def _unexpected(source: Statement, key: str, written: object) -> Finding:
    expected = _EXPECTED.get(key, _SHORT_TEXT)()
    return source.refused(_UNEXPECTED(key=source.names.get(key, key), written=_cut(written), expected=expected))


def _garment(said: Iterable[_Said], garments: Named[Garment]) -> dict[str, Any] | Finding:
    """Colour and name of the garment; nothing where nobody names one."""
    one = _first(said, "garment")
    if one is None or one.values.garment is None:
        return {}
    written = one.values.garment
    if written.startswith("#") or not garments.entries:
        try:
            return {"garment": parse_hex(written)}
        except ValueError:
            return _unexpected(one.source, "garment", written)
    found = garments.find(written)
    if found is None:
        near = garments.near(written)
        unknown = _NEAR_GARMENT(written=_cut(written), near=", ".join(near)) if near else _NO_GARMENT(written=_cut(written))
        return one.source.refused(unknown)
    name, garment = found
    return {"garment": garment.colour, "garment_name": name}


def _size(said: Iterable[_Said], placements: Named[Place]) -> dict[str, Any] | Finding:
    """Width and height, and the placement by the shop's name for it. A shop without a table takes any word for a placement."""
    sized, placed = _first(said, "width", "height"), _first(said, "placement")
    written = None if placed is None else placed.values.placement
    found = None if written is None else placements.find(written)
    name = {} if found is None else {"placement": found[0]}
    if sized is not None:
        return {**name, "width": sized.values.width, "height": sized.values.height}
    if found is not None:
        place = found[1]
        return {**name, "width": place.width, "height": place.height, "is_boxed": True}
    if placed is None or written is None or not placements.entries:
        return {}
    near = placements.near(written)
    return placed.source.refused(
        _NEAR_PLACE(written=_cut(written), near=", ".join(near)) if near else _NO_PLACE(written=_cut(written))
    )


def _first(said: Iterable[_Said], *keys: str) -> _Said | None:
    """The statement that goes first among those that say any of these keys."""
    return next((one for one in said if any(getattr(one.values, key) is not None for key in keys)), None)


def _cut(written: object) -> str:
    text = str(written)
    return text if len(text) <= _SHOWN else f"{text[:_SHOWN]}…"
