"""The journal's tables, version by version. A new version is a new step; an old step is never changed."""

import sqlite3
from typing import Final

from filmhand.errors import JournalError

STEPS: Final = (
    """
    CREATE TABLE job (
      id TEXT PRIMARY KEY,
      seq INTEGER NOT NULL UNIQUE,
      folder TEXT NOT NULL,
      name BLOB NOT NULL,
      digest TEXT NOT NULL,
      size_bytes INTEGER NOT NULL,
      stage TEXT NOT NULL,
      attempt INTEGER NOT NULL DEFAULT 0,
      approved INTEGER NOT NULL DEFAULT 0,
      copies INTEGER NOT NULL CHECK (copies > 0),
      ticket TEXT NOT NULL,
      arrived TEXT NOT NULL,
      since TEXT NOT NULL,
      place TEXT,
      findings TEXT NOT NULL DEFAULT '[]',
      prepared TEXT NOT NULL DEFAULT '{}',
      rule_digest TEXT NOT NULL
    ) STRICT;
    CREATE INDEX job_by_stage ON job (stage, seq);
    CREATE INDEX job_by_digest ON job (digest);
    CREATE TABLE source (
      job TEXT NOT NULL REFERENCES job (id),
      role TEXT NOT NULL,
      name BLOB NOT NULL,
      device TEXT NOT NULL,
      inode TEXT NOT NULL,
      size_bytes INTEGER NOT NULL,
      mtime_ns INTEGER NOT NULL,
      digest TEXT NOT NULL,
      removed INTEGER NOT NULL DEFAULT 0,
      PRIMARY KEY (job, role)
    ) STRICT;
    CREATE INDEX source_pending ON source (job) WHERE NOT removed;
    CREATE TABLE sheet (
      id INTEGER PRIMARY KEY AUTOINCREMENT,
      name TEXT NOT NULL UNIQUE,
      folder TEXT NOT NULL,
      stage TEXT NOT NULL,
      attempt INTEGER NOT NULL DEFAULT 0,
      close_asked INTEGER NOT NULL DEFAULT 0,
      opened TEXT NOT NULL,
      since TEXT NOT NULL,
      film_width_mm REAL NOT NULL DEFAULT 0,
      length_mm REAL NOT NULL DEFAULT 0,
      boot TEXT,
      why TEXT NOT NULL DEFAULT '',
      held_at TEXT,
      facts TEXT NOT NULL DEFAULT '{}'
    ) STRICT;
    CREATE INDEX sheet_by_stage ON sheet (stage);
    CREATE UNIQUE INDEX one_open_sheet ON sheet (folder) WHERE stage = 'open';
    CREATE TABLE placement (
      job TEXT NOT NULL REFERENCES job (id),
      copy INTEGER NOT NULL CHECK (copy > 0),
      sheet INTEGER NOT NULL REFERENCES sheet (id),
      x_mm REAL NOT NULL,
      y_mm REAL NOT NULL,
      width_mm REAL NOT NULL,
      height_mm REAL NOT NULL,
      rotation_deg REAL NOT NULL,
      live INTEGER NOT NULL DEFAULT 1
    ) STRICT;
    CREATE UNIQUE INDEX one_place ON placement (job, copy) WHERE live;
    CREATE INDEX placement_by_sheet ON placement (sheet);
    CREATE TABLE event (
      seq INTEGER PRIMARY KEY AUTOINCREMENT,
      at TEXT NOT NULL,
      job TEXT,
      sheet INTEGER,
      kind TEXT NOT NULL,
      facts TEXT NOT NULL
    ) STRICT;
    CREATE INDEX event_by_job ON event (job, seq);
    """,
    """
    ALTER TABLE job ADD COLUMN role TEXT NOT NULL DEFAULT 'artwork';
    ALTER TABLE job ADD COLUMN page INTEGER NOT NULL DEFAULT 0;
    ALTER TABLE job ADD COLUMN parent TEXT REFERENCES job (id);
    CREATE TABLE order_line (
      list TEXT NOT NULL REFERENCES job (id),
      line INTEGER NOT NULL,
      file BLOB NOT NULL,
      ticket TEXT,
      fault TEXT CHECK ((ticket IS NULL) <> (fault IS NULL)),
      job TEXT REFERENCES job (id),
      PRIMARY KEY (list, line)
    ) STRICT;
    CREATE INDEX order_line_open ON order_line (list) WHERE job IS NULL;
    """,
    """
    ALTER TABLE job ADD COLUMN printer TEXT NOT NULL DEFAULT '';
    ALTER TABLE sheet ADD COLUMN printer TEXT NOT NULL DEFAULT '';
    DROP INDEX one_open_sheet;
    CREATE UNIQUE INDEX one_open_sheet ON sheet (folder, printer) WHERE stage = 'open';
    ALTER TABLE placement ADD COLUMN part INTEGER NOT NULL DEFAULT 0 CHECK (part >= 0);
    ALTER TABLE placement ADD COLUMN label TEXT;
    DROP INDEX one_place;
    CREATE UNIQUE INDEX one_place ON placement (job, copy, part) WHERE live;
    CREATE TRIGGER one_sheet BEFORE INSERT ON placement
      WHEN EXISTS (SELECT 1 FROM placement WHERE live AND job = NEW.job AND copy = NEW.copy
                   AND (sheet <> NEW.sheet OR (part = 0) <> (NEW.part = 0)))
      BEGIN SELECT RAISE(ABORT, 'a copy lies whole, or in pieces, on one sheet'); END;
    """,
    """
    CREATE TABLE rule_text (
      digest TEXT PRIMARY KEY,
      text TEXT NOT NULL
    ) STRICT;
    """,
    """
    CREATE INDEX job_ended ON job (since) WHERE stage IN ('archived', 'rejected');
    CREATE INDEX job_by_parent ON job (parent) WHERE parent IS NOT NULL;
    CREATE INDEX placement_by_job ON placement (job);
    CREATE INDEX order_line_by_job ON order_line (job) WHERE job IS NOT NULL;
    CREATE INDEX event_by_sheet ON event (sheet) WHERE sheet IS NOT NULL;
    """,
)


def check_version(connection: sqlite3.Connection) -> None:
    """JournalError where a journal that is only looked at is not of the newest version."""
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    if version < len(STEPS):
        raise JournalError(
            "The journal is of an older filmhand, and looking does not upgrade it",
            next_step="Start the daemon, or run once: filmhand batch SHOP",
        )
    _refuse_newer(version)


def upgrade(connection: sqlite3.Connection) -> None:
    """Bring a journal to the newest version, each step in a transaction. JournalError when it is newer than this program."""
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    _refuse_newer(version)
    for number, step in enumerate(STEPS[version:], version + 1):
        connection.executescript(f"BEGIN IMMEDIATE; {step} PRAGMA user_version = {number}; COMMIT;")


def _refuse_newer(version: int) -> None:
    if version > len(STEPS):
        raise JournalError(
            f"The journal is of version {version}, this program knows {len(STEPS)}",
            next_step="Run the newer filmhand that wrote it, or restore a backup made before the upgrade",
        )
