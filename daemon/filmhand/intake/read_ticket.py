"""The job ticket of an artwork: from its ticket file, then from its file name, then from the rule. Pure."""

import json
import re
import tomllib
from pathlib import PurePath
from typing import Any, Final

from pydantic import ValidationError

from filmhand.intake.ticket import Ticket
from filmhand.preflight.finding import Finding, Severity
from filmhand.rules import Rule
from filmhand.words import Phrase, Words

TICKET: Final = "ticket"
_TICKET_FILE: Final = Phrase("ticket file")
_FILE_NAME: Final = Phrase("file name")
_CANNOT: Final = Phrase("The order in the {where} cannot be followed: {what}.")
_CORRECT: Final = Phrase("Correct the {where} and send the artwork again.")


def read_ticket(name: str, *, ticket_file: str | None, rule: Rule) -> Ticket | Finding:
    """What is ordered, or the finding (held for a person) that says what in the ticket file cannot be followed.

    `name` is the artwork's file name, `ticket_file` the text of its ticket file (TOML or JSON, told by its first character).
    """
    written = Ticket()
    if ticket_file is not None:
        try:
            written = Ticket.model_validate(_parse(ticket_file))
        except ValidationError as problem:
            return _unreadable(_TICKET_FILE(), _expected(problem))
        except ValueError as problem:
            return _unreadable(_TICKET_FILE(), str(problem))
    try:
        named = _from_name(PurePath(name).stem, rule)
    except ValidationError as problem:
        return _unreadable(_FILE_NAME(), _expected(problem))
    defaults = Ticket(copies=rule.ticket.copies, garment=rule.garment)
    said = {**_given(defaults), **_given(named), **_given(written)}
    if written.width is not None or written.height is not None:
        # A ticket file that states a size states all of it: a width in the file name does not come on top.
        said |= {"width": written.width, "height": written.height}
    return Ticket.model_construct(**{**dict(Ticket()), **said})


def _parse(text: str) -> Any:
    return json.loads(text) if text.lstrip("\ufeff \t\r\n").startswith("{") else tomllib.loads(text.lstrip("\ufeff"))


def _given(ticket: Ticket) -> dict[str, Any]:
    return {key: value for key, value in ticket if value is not None}


def _from_name(stem: str, rule: Rule) -> Ticket:
    """What the rule's pattern finds in the file name; a name that does not match says nothing."""
    match = re.search(rule.ticket.filename, stem) if rule.ticket.filename else None
    if match is None:
        return Ticket()
    return Ticket.model_validate({key: value for key, value in match.groupdict().items() if value})


def _expected(problem: ValidationError) -> str:
    error = problem.errors()[0]
    key = ".".join(str(part) for part in error["loc"])
    return f"{key}: {error['msg'].removeprefix('Value error, ')}"


def _unreadable(where: Words, what: str) -> Finding:
    return Finding(TICKET, Severity.HOLD, _CANNOT(where=where, what=what), _CORRECT(where=where))
