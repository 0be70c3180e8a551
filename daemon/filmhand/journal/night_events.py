"""What the journal keeps of the night itself: reports that were written, troubles that were told, attempts that failed.

They are events of no job and no sheet; `load` is for the start, for they have no index of their own.
"""

import json
import sqlite3
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Final

from filmhand.journal.journal import Journal
from filmhand.journal.records import shown, to_json

_REPORTED: Final = "reported"
_TROUBLE: Final = "trouble"
_ENDED: Final = "trouble-ended"


@dataclass(frozen=True)
class Reported:
    """The last report: the time of day for which it was written, and the instant up to which it tells."""

    due: datetime
    until: datetime


@dataclass(frozen=True)
class Told:
    """Something that stopped the line, as a person was told."""

    key: str
    """What tells it from others: "sheet NAME", "job ID", "settings", "disk"."""
    title: str
    body: str
    at: datetime
    ended: datetime | None = None


@dataclass(frozen=True)
class Remembered:
    """What the journal knows of the night at a start."""

    reported: Reported | None = None
    standing: Mapping[str, Told] = field(default_factory=dict)
    """Troubles that were told and have not ended, by key."""


@dataclass(frozen=True)
class FailedAttempt:
    """An attempt at a file or a sheet that ended without a result."""

    at: datetime
    what: str
    """The file's name, or the sheet's."""
    why: str


def load(journal: Journal) -> Remembered:
    """The last report, and troubles that stand."""
    reported = None
    for row in journal.rows("SELECT facts FROM event WHERE kind = ? ORDER BY seq DESC LIMIT 1", _REPORTED):
        facts = json.loads(row["facts"])
        reported = Reported(datetime.fromisoformat(facts["due"]), datetime.fromisoformat(facts["until"]))
    return Remembered(reported, {told.key: told for told in troubles(journal) if told.ended is None})


def reported(journal: Journal, report: Reported, *, place: str, standing: Iterable[str] = ()) -> None:
    """A report was written; the next one tells from its end on. `place`: from the shop's root; empty where none was needed.

    What it has told is forgotten: earlier reports, and troubles but those whose keys are `standing`.
    """
    facts = {"due": report.due.isoformat(), "until": report.until.isoformat(), "place": place}
    keys = to_json(list(standing))
    told = "DELETE FROM event WHERE kind IN (?, ?) AND json_extract(facts, '$.key') NOT IN (SELECT value FROM json_each(?))"
    with journal.commit() as cursor:
        cursor.execute("DELETE FROM event WHERE kind = ?", (_REPORTED,))
        cursor.execute(told, (_TROUBLE, _ENDED, keys))
        _tell(cursor, _REPORTED, facts, at=report.until)


def trouble(journal: Journal, *told: Told) -> None:
    """Troubles are told now."""
    with journal.commit() as cursor:
        for one in told:
            _tell(cursor, _TROUBLE, {"key": one.key, "title": one.title, "body": one.body}, at=one.at)


def ended(journal: Journal, *keys: str, at: datetime) -> None:
    """Troubles are over: should they come again, they are told again."""
    with journal.commit() as cursor:
        for key in keys:
            _tell(cursor, _ENDED, {"key": key}, at=at)


def troubles(journal: Journal, *, since: datetime | None = None) -> list[Told]:
    """Troubles that stood at or after an instant, the oldest first; without one, all."""
    found: list[Told] = []
    open_at: dict[str, int] = {}
    for row in journal.rows("SELECT at, kind, facts FROM event WHERE kind IN (?, ?) ORDER BY seq", _TROUBLE, _ENDED):
        at, facts = datetime.fromisoformat(row["at"]), json.loads(row["facts"])
        key = facts["key"]
        if key in open_at:  # told anew with other words, or over
            place = open_at.pop(key)
            found[place] = Told(key, found[place].title, found[place].body, found[place].at, at)
        if row["kind"] == _TROUBLE:
            open_at[key] = len(found)
            found.append(Told(key, facts["title"], facts["body"], at))
    return [told for told in found if since is None or told.ended is None or told.ended >= since]


def failures(journal: Journal, *, since: datetime) -> list[FailedAttempt]:
    """Attempts that failed at or after an instant, the oldest first."""
    query = (
        "SELECT event.at, event.facts, job.name AS file, sheet.name AS sheet FROM event LEFT JOIN job ON job.id = event.job"
        " LEFT JOIN sheet ON sheet.id = event.sheet WHERE kind = 'attempt-failed' AND datetime(at) >= datetime(?)"
        " ORDER BY event.seq"
    )
    found = [_failed(row) for row in journal.rows(query, since.isoformat())]
    return [one for one in found if one.at >= since]  # SQLite's datetime() drops parts of a second


def _failed(row: sqlite3.Row) -> FailedAttempt:
    name = row["sheet"] or shown((row["file"] or b"").decode("utf-8", "surrogateescape"))
    return FailedAttempt(datetime.fromisoformat(row["at"]), name, str(json.loads(row["facts"]).get("why", "")))


def _tell(cursor: sqlite3.Connection, kind: str, facts: Mapping[str, Any], *, at: datetime) -> None:
    cursor.execute("INSERT INTO event (at, kind, facts) VALUES (?, ?, ?)", (at.isoformat(), kind, to_json(facts)))
