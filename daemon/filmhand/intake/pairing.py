"""Which ticket file belongs to which artwork: `NAME.ticket.toml` beside `NAME` or `NAME.png`. Pure."""

from collections.abc import Iterable, Mapping
from pathlib import PurePath

from filmhand.intake.listing import TICKET_ENDINGS, Entry, EntryKind


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


def _described(ticket_name: str) -> str:
    ending = next(ending for ending in TICKET_ENDINGS if ticket_name.lower().endswith(ending))
    return ticket_name[: -len(ending)]
