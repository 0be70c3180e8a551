"""What happens alike to jobs and sheets: a move from a stage to the next, and attempts counted before they begin."""

import sqlite3
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any, Final, Self

from filmhand.errors import JournalError
from filmhand.journal.journal import Journal
from filmhand.journal.records import DEFERRED, JobId, SheetId, to_json
from filmhand.journal.states import JOB_MOVES, SHEET_MOVES

_MOVES: Final[Mapping[str, Mapping[Any, frozenset[Any]]]] = {"job": JOB_MOVES, "sheet": SHEET_MOVES}

MOST_DEFERRED: Final = 20
"""What fills the disk time and again may be what needs more of it than there is."""


@dataclass(frozen=True)
class Subject:
    """A row of the table `job` or `sheet`."""

    table: str
    id: JobId | SheetId

    @classmethod
    def job(cls, job: JobId) -> Self:
        """A job."""
        return cls("job", job)

    @classmethod
    def sheet(cls, sheet: SheetId) -> Self:
        """A sheet."""
        return cls("sheet", sheet)


def move(
    cursor: sqlite3.Connection, subject: Subject, to: StrEnum, *, at: datetime, kind: str | None = None, **columns: Any
) -> None:
    """Take a subject to a stage inside a transaction, with other columns. JournalError when states.py does not allow it."""
    (before,) = cursor.execute(f"SELECT stage FROM {subject.table} WHERE id = ?", (subject.id,)).fetchone()
    if to not in _MOVES[subject.table][before]:
        raise JournalError(
            f"{subject.table.capitalize()} {subject.id} cannot go from {before} to {to}",
            next_step="Report this as a fault of filmhand, with the journal",
        )
    columns |= {"stage": to, "since": at.isoformat()}
    assignments = ", ".join(f"{column} = ?" for column in columns)
    cursor.execute(f"UPDATE {subject.table} SET {assignments} WHERE id = ?", (*columns.values(), subject.id))
    tell(cursor, subject, kind or str(to), at=at, stage=to)


def begin_attempt(journal: Journal, subject: Subject, *, at: datetime) -> int:
    """Count an attempt before it begins, so that what kills us is counted too. Returns its number."""
    with journal.commit() as cursor:
        cursor.execute(f"UPDATE {subject.table} SET attempt = attempt + 1 WHERE id = ?", (subject.id,))
        (attempt,) = cursor.execute(f"SELECT attempt FROM {subject.table} WHERE id = ?", (subject.id,)).fetchone()
        tell(cursor, subject, "attempt", at=at, attempt=attempt)
    return int(attempt)


def attempt_failed(journal: Journal, subject: Subject, why: str, *, at: datetime) -> None:
    """An attempt ended without a result; the subject stays where it is."""
    with journal.commit() as cursor:
        tell(cursor, subject, "attempt-failed", at=at, why=why)


def attempt_deferred(journal: Journal, subject: Subject, why: str, *, at: datetime) -> bool:
    """Uncount an attempt that ended for no fault of its subject's. Not more than MOST_DEFERRED times: then it counts; False."""
    count = f"SELECT count(*) FROM event WHERE {subject.table} = ? AND kind = '{DEFERRED}'"
    with journal.commit() as cursor:
        (before,) = cursor.execute(count, (subject.id,)).fetchone()
        if before < MOST_DEFERRED:
            cursor.execute(f"UPDATE {subject.table} SET attempt = attempt - 1 WHERE id = ?", (subject.id,))
        tell(cursor, subject, DEFERRED if before < MOST_DEFERRED else "attempt-failed", at=at, why=why)
    return bool(before < MOST_DEFERRED)


def tell(cursor: sqlite3.Connection, subject: Subject, kind: str, *, at: datetime, **facts: Any) -> None:
    """Leave an event of a subject in the transaction under way."""
    values = (at.isoformat(), subject.id, kind, to_json(facts))
    cursor.execute(f"INSERT INTO event (at, {subject.table}, kind, facts) VALUES (?, ?, ?, ?)", values)
