"""What may happen to a gang sheet, one verb a commit. Each checks the move against states.py and leaves an event."""

import json
import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from filmhand.errors import JournalError
from filmhand.gang.sheet import Placement
from filmhand.journal import jobs
from filmhand.journal.journal import Journal
from filmhand.journal.moves import Subject, move, tell
from filmhand.journal.records import JobId, SheetId, SheetRecord, placement_values, spot, to_json
from filmhand.journal.states import JobStage, SheetStage


@dataclass(frozen=True)
class Film:
    """The film of a sheet: its width, its length with both margins, and why it is this one, where there was a choice."""

    width_mm: float
    length_mm: float
    why: str = ""


@dataclass(frozen=True)
class Balance:
    """Copies by where they are; `ordered` is their sum (invariant 6)."""

    ordered: int
    delivered: int
    on_sheets: int
    waiting: int
    held: int
    rejected: int

    @property
    def holds(self) -> bool:
        """Whether nothing was lost or made."""
        return self.ordered == self.delivered + self.on_sheets + self.waiting + self.held + self.rejected


def ask_close(journal: Journal, folder: str, *, at: datetime) -> bool:
    """Close the open sheets of a hot folder, one a printer, as soon as may be. False where none is open."""
    with journal.commit() as cursor:
        rows = cursor.execute("SELECT id FROM sheet WHERE folder = ? AND stage = 'open'", (folder,)).fetchall()
        for row in rows:
            cursor.execute("UPDATE sheet SET close_asked = 1 WHERE id = ?", (row["id"],))
            tell(cursor, Subject.sheet(row["id"]), "close-asked", at=at)
    return bool(rows)


def seal(
    journal: Journal,
    sheet: SheetRecord,
    placements: Iterable[Placement],
    *,
    film: Film,
    rule: str,
    at: datetime,
) -> None:
    """Placements and the copies' states, together. What did not fit goes on a further sheet, closed like this one if asked.

    `rule`: digest of the rule that it was laid out by.
    """
    with journal.commit() as cursor:
        values = [{"job": item.job, "copy": item.copy, "sheet": sheet.id, **placement_values(item)} for item in placements]
        columns = tuple(values[0]) if values else ()
        cursor.executemany(
            f"INSERT INTO placement ({', '.join(columns)}) VALUES ({', '.join('?' * len(columns))})",
            [tuple(row.values()) for row in values],
        )
        facts = to_json({"film": {"why": film.why}, "rule": rule})
        laid: dict[str, Any] = {"film_width_mm": film.width_mm, "length_mm": film.length_mm, "facts": facts}
        move(cursor, Subject.sheet(sheet.id), SheetStage.SEALED, at=at, attempt=0, **laid)
        full = (
            "SELECT id FROM job WHERE stage = 'waiting' AND folder = ? AND copies ="
            " (SELECT count(DISTINCT copy) FROM placement WHERE placement.job = job.id AND placement.live)"
        )
        for row in cursor.execute(full, (sheet.folder,)).fetchall():
            move(cursor, Subject.job(row["id"]), JobStage.SHEETED, at=at)
        _open_for_the_rest(cursor, sheet.folder, sheet.printer, at=at, close_asked=sheet.close_asked)


def staged(journal: Journal, sheet: SheetRecord, facts: dict[str, Any], *, at: datetime) -> None:
    """Whole, synced and read back under its final name in staging. `facts` go to those that laying it out found."""
    with journal.commit() as cursor:
        move(cursor, Subject.sheet(sheet.id), SheetStage.STAGED, at=at, facts=to_json({**sheet.facts, **facts}))


def delivering(journal: Journal, sheet: SheetId, *, boot: str, at: datetime) -> None:
    """② The rename comes next; the boot id tells later whether power was lost around it."""
    with journal.commit() as cursor:
        move(cursor, Subject.sheet(sheet), SheetStage.DELIVERING, at=at, boot=boot)


def delivered(journal: Journal, sheet: SheetId, *, at: datetime) -> None:
    """Handed over. Jobs whose every copy is now delivered go with it; their originals are archived next."""
    with journal.commit() as cursor:
        move(cursor, Subject.sheet(sheet), SheetStage.DELIVERED, at=at)
        whole = (
            "SELECT id FROM job WHERE stage = 'sheeted' AND id IN (SELECT job FROM placement WHERE sheet = ? AND live)"
            " AND NOT EXISTS (SELECT 1 FROM placement JOIN sheet ON sheet.id = placement.sheet"
            " WHERE placement.job = job.id AND placement.live AND sheet.stage <> 'delivered')"
        )
        for row in cursor.execute(whole, (sheet,)).fetchall():
            move(cursor, Subject.job(row["id"]), JobStage.DELIVERED, at=at)


def hold(journal: Journal, sheet: SheetRecord, why: str, *, at: datetime) -> None:
    """A person must decide."""
    with journal.commit() as cursor:
        move(cursor, Subject.sheet(sheet.id), SheetStage.HELD, at=at, why=why, held_at=sheet.stage)


def released(journal: Journal, sheet: SheetRecord, *, at: datetime) -> None:
    """A person said: go on with it. It goes back to where it was held, its attempts uncounted.

    One held around the hand-over goes back to staging: the person has made sure that it was not printed.
    """
    if sheet.held_at is None:
        raise JournalError(f"Sheet {sheet.name} is not held", next_step="Look at: filmhand status SHOP")
    back = SheetStage.STAGED if sheet.held_at is SheetStage.DELIVERING else sheet.held_at
    with journal.commit() as cursor:
        move(cursor, Subject.sheet(sheet.id), back, at=at, kind="released", attempt=0, boot=None, held_at=None, why="")


def cancelled(journal: Journal, sheet: SheetId, *, at: datetime) -> None:
    """It will not be printed: its copies wait for another sheet."""
    with journal.commit() as cursor:
        folder, printer = cursor.execute("SELECT folder, printer FROM sheet WHERE id = ?", (sheet,)).fetchone()
        touched = cursor.execute("SELECT DISTINCT job FROM placement WHERE sheet = ? AND live", (sheet,)).fetchall()
        cursor.execute("UPDATE placement SET live = 0 WHERE sheet = ?", (sheet,))
        move(cursor, Subject.sheet(sheet), SheetStage.CANCELLED, at=at)
        for item in touched:
            stage = cursor.execute("SELECT stage FROM job WHERE id = ?", (item["job"],)).fetchone()["stage"]
            if stage == JobStage.SHEETED:
                move(cursor, Subject.job(item["job"]), JobStage.WAITING, at=at)
        _open_for_the_rest(cursor, folder, printer, at=at, close_asked=False)


def by_stage(journal: Journal, *stages: SheetStage) -> list[SheetRecord]:
    """Sheets in any of the stages, oldest first."""
    marks = ", ".join("?" * len(stages))
    return [_sheet(row) for row in journal.rows(f"SELECT * FROM sheet WHERE stage IN ({marks}) ORDER BY id", *stages)]


def find(journal: Journal, name: str) -> SheetRecord | None:
    """A sheet by its name."""
    return next((_sheet(row) for row in journal.rows("SELECT * FROM sheet WHERE name = ?", name)), None)


def placements(journal: Journal, sheet: SheetId) -> tuple[Placement, ...]:
    """Where each copy lies on a sheet."""
    return tuple(
        Placement(
            job=JobId(row["job"]),
            copy=row["copy"],
            x_mm=row["x_mm"],
            y_mm=row["y_mm"],
            width_mm=row["width_mm"],
            height_mm=row["height_mm"],
            rotation_deg=row["rotation_deg"],
            part=row["part"],
            label=spot(row["label"]),
        )
        for row in journal.rows("SELECT * FROM placement WHERE sheet = ? AND live ORDER BY y_mm, x_mm", sheet)
    )


def balance(journal: Journal) -> Balance:
    """Where every ordered copy is."""
    (by_job,) = journal.rows(
        "SELECT coalesce(sum(copies), 0) AS ordered,"
        " coalesce(sum(copies) FILTER (WHERE stage IN ('holding', 'held')), 0) AS held,"
        " coalesce(sum(copies) FILTER (WHERE stage IN ('rejecting', 'rejected')), 0) AS rejected,"
        " coalesce(sum(copies) FILTER (WHERE stage IN ('claimed', 'waiting')), 0) AS waiting FROM job WHERE role = 'artwork'"
    )
    (by_sheet,) = journal.rows(
        "SELECT coalesce(sum(sheet.stage = 'delivered'), 0) AS delivered,"
        " coalesce(sum(sheet.stage <> 'delivered'), 0) AS on_sheets,"
        " coalesce(sum(job.stage IN ('claimed', 'waiting')), 0) AS of_waiting"
        " FROM placement JOIN sheet ON sheet.id = placement.sheet JOIN job ON job.id = placement.job"
        " WHERE live AND part <= 1"  # a copy in pieces counts once
    )
    return Balance(
        ordered=by_job["ordered"],
        delivered=by_sheet["delivered"],
        on_sheets=by_sheet["on_sheets"],
        waiting=by_job["waiting"] - by_sheet["of_waiting"],
        held=by_job["held"],
        rejected=by_job["rejected"],
    )


def _open_for_the_rest(cursor: sqlite3.Connection, folder: str, printer: str, *, at: datetime, close_asked: bool) -> None:
    """A sheet for copies that still wait for this printer."""
    query = "SELECT 1 FROM job WHERE stage = 'waiting' AND folder = ? AND printer = ?"
    if cursor.execute(query, (folder, printer)).fetchone():
        jobs.open_sheet(cursor, folder, printer, at=at, close_asked=close_asked)


def _sheet(row: sqlite3.Row) -> SheetRecord:
    return SheetRecord(
        id=row["id"],
        name=row["name"],
        folder=row["folder"],
        stage=SheetStage(row["stage"]),
        attempt=row["attempt"],
        close_asked=bool(row["close_asked"]),
        opened=datetime.fromisoformat(row["opened"]),
        since=datetime.fromisoformat(row["since"]),
        printer=row["printer"],
        film_width_mm=row["film_width_mm"],
        length_mm=row["length_mm"],
        boot=row["boot"],
        why=row["why"],
        held_at=SheetStage(row["held_at"]) if row["held_at"] else None,
        facts=json.loads(row["facts"]),
    )
