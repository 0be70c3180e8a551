"""A copy of the journal as it stands at one instant, while a daemon may be writing: SQLite's online backup API.

https://www.sqlite.org/backup.html: copied in one step, it is what one read transaction sees.
"""

import sqlite3
from contextlib import closing
from pathlib import Path

from filmhand.errors import JournalError


def snapshot(journal: Path, target: Path) -> None:
    """Copy the journal to a new file, whole in itself (no log beside it). JournalError when it cannot be read or is damaged."""
    try:
        with (
            closing(sqlite3.connect(f"{journal.absolute().as_uri()}?mode=ro", uri=True, isolation_level=None)) as source,
            closing(sqlite3.connect(target, isolation_level=None)) as copy,
        ):
            source.backup(copy)
            copy.execute("PRAGMA journal_mode = DELETE")
        faults = check(target)
    except sqlite3.Error as problem:
        raise JournalError(
            f"The journal cannot be copied: {problem}", file=journal, next_step="Run: filmhand doctor SHOP"
        ) from None
    if faults:
        raise JournalError(f"The journal is damaged: {faults[0]}", file=journal, next_step="Restore the last good backup")


def check(journal: Path) -> tuple[str, ...]:
    """What SQLite finds wrong with a journal's pages; nothing when it is sound. sqlite3.Error when it cannot be read."""
    with closing(sqlite3.connect(f"{journal.absolute().as_uri()}?mode=ro", uri=True, isolation_level=None)) as connection:
        said = tuple(str(row[0]) for row in connection.execute("PRAGMA quick_check(3)"))
    return () if said == ("ok",) else said


def last_event(journal: Path) -> tuple[int, str | None]:
    """The journal's version, and when its newest event was written, as it stands there. sqlite3.Error when it cannot be read."""
    with closing(sqlite3.connect(f"{journal.absolute().as_uri()}?mode=ro", uri=True, isolation_level=None)) as connection:
        (version,) = connection.execute("PRAGMA user_version").fetchone()
        newest = connection.execute("SELECT at FROM event ORDER BY seq DESC LIMIT 1").fetchone() if version else None
    return int(version), None if newest is None else str(newest[0])
