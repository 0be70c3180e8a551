"""A connection to SQLite whose transaction survives a full disk: the ballast is spent, and it is done over, once.

SQLite takes a transaction back when a write of it finds no room (https://www.sqlite.org/lang_transaction.html, section 3), so
that its statements have to be said again. They read what they read before: no other connection writes.
"""

import sqlite3
from collections.abc import Callable
from functools import partial
from typing import Any

from filmhand.journal.ballast import Ballast

Deed = Callable[[], sqlite3.Cursor]


class Connection(sqlite3.Connection):
    """The one that writes. `ballast` is spent when the disk is full; without any, a full disk is an error at once."""

    ballast: Ballast | None = None
    _done: list[Deed] | None = None
    """What the transaction under way consists of so far."""

    def begin(self) -> None:
        """Begin a transaction."""
        self._done = None
        self._do(partial(super().execute, "BEGIN IMMEDIATE"))
        self._done = []

    def end(self) -> None:
        """Commit it."""
        self._do(partial(super().execute, "COMMIT"))
        self._done = None

    def take_back(self) -> None:
        """Undo it; SQLite may have done so already."""
        self._done = None
        if self.in_transaction:
            super().execute("ROLLBACK")

    def execute(self, sql: str, parameters: Any = (), /) -> sqlite3.Cursor:
        """As of any connection."""
        return self._do(partial(super().execute, sql, parameters))

    def executemany(self, sql: str, parameters: Any, /) -> sqlite3.Cursor:
        """As of any connection."""
        return self._do(partial(super().executemany, sql, list(parameters)))

    def _do(self, deed: Deed) -> sqlite3.Cursor:
        try:
            result = deed()
        except sqlite3.OperationalError as problem:
            is_full = problem.sqlite_errorcode == sqlite3.SQLITE_FULL
            if not is_full or self.ballast is None or not self.ballast.spend():
                raise
            self._do_over()
            result = deed()
        if self._done is not None:
            self._done.append(deed)
        return result

    def _do_over(self) -> None:
        """Bring the transaction under way to where it was."""
        if self._done is not None and not self.in_transaction:
            super().execute("BEGIN IMMEDIATE")
            for deed in self._done:
                deed()
