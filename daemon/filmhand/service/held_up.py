"""What must wait: actions that would conclude from what an offline folder does not show, files that are ours already. Pure."""

from collections.abc import Iterable, Set

from filmhand.intake.away import OUT, place_of
from filmhand.journal.records import Source
from filmhand.service.actions import Action, Arrival, Claim, Deliver, EndList, MakeSheet, RemoveSource


def held_up(action: Action, away: Set[str]) -> bool:
    """Whether an action touches, or judges by, a place that is offline ("in/dark", "out")."""
    match action:
        case RemoveSource(folder=folder):
            return place_of(folder) in away
        case Claim(arrival=arrival):
            return place_of(arrival.file.folder) in away
        case EndList(job=job, missing=missing):
            return bool(missing) and place_of(job.folder) in away
        case Deliver() | MakeSheet():
            return OUT in away
        case _:
            return False


def not_ours_yet(arrivals: Iterable[Arrival], pending: Iterable[tuple[str, Source]]) -> tuple[Arrival, ...]:
    """Arrivals without what we have copied already, and could not remove from its hot folder: that is worked once."""
    ours = {(folder, source.name) for folder, source in pending}
    return tuple(
        arrival
        for arrival in arrivals
        if not any((entry.folder, entry.name) in ours for entry in (arrival.file, arrival.ticket) if entry is not None)
    )
