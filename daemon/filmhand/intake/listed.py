"""One order of a list, before its ticket is made; and what is wrong with a list as a whole. Pure."""

import re
from dataclasses import dataclass
from typing import Final

from filmhand.intake.ordered import TICKET, Statement
from filmhand.preflight.finding import Finding, Severity
from filmhand.words import Phrase, Words

_CANNOT: Final = Phrase("The order list {list} cannot be followed: {what}.")
_CORRECT: Final = Phrase("Please correct the list and send it again.")
_NOTE: Final = Phrase("Of the order list {list}: {what}.")


@dataclass(frozen=True)
class Listed:
    """What a list says of one artwork, or the finding that it cannot be followed. `line` counts from 1 and is its own."""

    line: int
    file: str
    statement: Statement | Finding


def base_name(path: str) -> str:
    """The name at a path's end, whichever way its slashes lean. No path that a list names is ever opened."""
    name = re.split(r"[/\\]", path)[-1].strip()
    return "" if name in {".", ".."} else name


def list_held(name: str, what: Words) -> Finding:
    """The finding, held for a person, that the list with this name cannot be followed."""
    return Finding(TICKET, Severity.HOLD, _CANNOT(list=name, what=what), _CORRECT())


def list_noted(name: str, what: Words) -> Finding:
    """The same, where it hinders nothing."""
    return Finding(TICKET, Severity.NOTE, _NOTE(list=name, what=what))
