"""The journal: one SQLite file, one connection that writes. Verbs on jobs are in jobs.py, on sheets in sheets.py.

WAL with synchronous=FULL: a commit that returned is on the disk. Never on a network file system (SQLite's own advice: its locks
and its shared memory need one machine).
"""

import json
import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from typing import Any, Self

from filmhand.errors import JournalError
from filmhand.journal import schema
from filmhand.journal.ballast import Ballast
from filmhand.journal.connection import Connection
from filmhand.journal.records import Event, JobId


class Journal:
    """The durable record of a shop. Use it from one thread."""

    def __init__(self, connection: Connection) -> None:
        connection.row_factory = sqlite3.Row
        self._connection = connection

    @classmethod
    def open(cls, path: Path, ballast: Ballast | None = None) -> Self:
        """Open for writing, making or upgrading it. JournalError when it cannot be trusted.

        `ballast` is spent, once, when a transaction finds the disk full.
        """
        try:
            connection = sqlite3.connect(path, isolation_level=None, factory=Connection)
            connection.ballast = ballast
            connection.execute("PRAGMA auto_vacuum = INCREMENTAL")  # heeded by a new file only
            connection.execute("PRAGMA journal_mode = WAL")
            connection.execute("PRAGMA synchronous = FULL")
            connection.execute("PRAGMA foreign_keys = ON")
            schema.upgrade(connection)
        except sqlite3.DatabaseError as problem:
            raise JournalError(
                f"The journal cannot be opened: {problem}",
                file=path,
                next_step="Restore the last backup of .filmhand, or move the damaged file away and keep the spool folder",
            ) from problem
        return cls(connection)

    @classmethod
    def read_only(cls, path: Path) -> Self:
        """Open for looking while a daemon may be writing. JournalError when there is none, or none of this version."""
        if not path.exists():
            raise JournalError("This shop has no journal yet", file=path, next_step="Run it once: filmhand batch SHOP")
        connection = sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True, isolation_level=None, factory=Connection)
        schema.check_version(connection)
        return cls(connection)

    def close(self) -> None:
        """Checkpoint and close."""
        self._connection.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    @contextmanager
    def commit(self) -> Iterator[sqlite3.Connection]:
        """One transaction: everything inside is durable together when the block ends, or nothing of it happened.

        JournalError when the disk does not take it: nothing more may then be done, for what is true is no longer known.
        """
        try:
            self._connection.begin()
            try:
                yield self._connection
            except BaseException:
                self._connection.take_back()
                raise
            self._connection.end()
        except sqlite3.OperationalError as problem:
            raise JournalError(
                f"The journal could not be written: {problem}",
                next_step="Make room on the disk that holds .filmhand, or mend its permissions, then start again",
            ) from problem

    def give_back(self, pages: int) -> None:
        """Fold the log into the file as far as no reader holds it, and give at most so many free pages back to the disk.

        A journal begun before this could be done keeps its free pages, and uses them again.
        """
        try:
            self.rows("PRAGMA wal_checkpoint(PASSIVE)")
            self.rows(f"PRAGMA incremental_vacuum({pages:d})")
        except sqlite3.OperationalError:
            return  # nothing of it happened; there is a next time

    def rows(self, query: str, *values: Any) -> list[sqlite3.Row]:
        """All rows of a query."""
        return self._connection.execute(query, values).fetchall()

    def events(self, job: JobId) -> list[Event]:
        """Every event of a job, oldest first."""
        return [
            Event(row["seq"], datetime.fromisoformat(row["at"]), row["job"], row["sheet"], row["kind"], json.loads(row["facts"]))
            for row in self.rows("SELECT * FROM event WHERE job = ? ORDER BY seq", job)
        ]


def name_bytes(name: str) -> bytes:
    """A file name as the system has it: names need not be text."""
    return os.fsencode(name)
