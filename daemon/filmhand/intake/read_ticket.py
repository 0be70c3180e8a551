"""The job ticket of an artwork: from its ticket file, then from its file name, then from the rule. Pure."""

import json
import tomllib
from typing import Any, Final

from filmhand.intake.ordered import TICKET, Statement, ordered
from filmhand.intake.ticket import Ticket
from filmhand.intake.wardrobe import NO_TABLES, Tables
from filmhand.preflight.finding import Finding
from filmhand.rules import Rule
from filmhand.words import Phrase

__all__ = ["TICKET", "read_ticket"]

_TICKET_FILE: Final = Phrase("ticket file")
_NOT_TOML: Final = Phrase("it is neither TOML nor JSON ({problem})")


def read_ticket(name: str, *, ticket_file: str | None, rule: Rule, tables: Tables = NO_TABLES) -> Ticket | Finding:
    """What is ordered, or the finding (held for a person) that says what in the ticket file or the name cannot be followed.

    `name` is the artwork's file name, `ticket_file` the text of its ticket file (TOML or JSON, told by its first character).
    """
    nothing = Statement(_TICKET_FILE(), {})
    if ticket_file is None:
        return ordered(nothing, name=name, rule=rule, tables=tables)
    try:
        values = _parse(ticket_file)
    except (ValueError, RecursionError) as problem:
        return nothing.refused(_NOT_TOML(problem=str(problem)))
    return ordered(Statement(_TICKET_FILE(), values), name=name, rule=rule, tables=tables)


def _parse(text: str) -> dict[str, Any]:
    text = text.lstrip("\ufeff \t\r\n")
    values: dict[str, Any] = json.loads(text) if text.startswith("{") else tomllib.loads(text)
    return values
