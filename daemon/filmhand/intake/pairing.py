"""Which ticket belongs to which artwork: `NAME.ticket.toml` beside `NAME` or `NAME.png`, a line of a list by its name. Pure."""

import unicodedata
from collections.abc import Iterable, Mapping
from pathlib import PurePath
from typing import Protocol, TypeVar

from filmhand.intake.listing import TICKET_ENDINGS, Entry, EntryKind


class Names(Protocol):
    """A line of an order list: which list, and the artwork's name."""

    @property
    def list(self) -> str:
        """The list it stands in."""

    @property
    def file(self) -> str:
        """The artwork's name as written."""


Line = TypeVar("Line", bound=Names)


def tickets_by_artwork(entries: Iterable[Entry]) -> Mapping[str, Entry]:
    """For each artwork name of one hot folder that has a ticket file, that ticket's entry. The full name goes before the stem."""
    entries = tuple(entries)
    tickets = {_described(entry.name): entry for entry in entries if entry.kind is EntryKind.TICKET}
    pairs = {}
    for entry in entries:
        if entry.kind is EntryKind.FILE:
            ticket = tickets.get(entry.name) or tickets.get(PurePath(entry.name).stem)
            if ticket is not None:
                pairs[entry.name] = ticket
    return pairs


def lines_for(name: str, lines: Iterable[Line]) -> tuple[Line, ...]:
    """The lines, of the first list that has some, which order an artwork: by its name, or its name without the ending.

    Names are the same in any case and however their accents are composed (Unicode NFC), for spreadsheets change both.
    """
    lines = tuple(lines)
    for wanted in (_key(name), _key(PurePath(name).stem)):
        found = [line for line in lines if _key(line.file) == wanted]
        if found:
            return tuple(line for line in found if line.list == found[0].list)
    return ()


def _key(name: str) -> str:
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).casefold())


def _described(ticket_name: str) -> str:
    ending = next(ending for ending in TICKET_ENDINGS if ticket_name.lower().endswith(ending))
    return ticket_name[: -len(ending)]
