"""What came and what was laid on film, read from the journal for the forecast. Nothing is written."""

import json
import sqlite3
from dataclasses import dataclass
from datetime import date, datetime

from filmhand.journal.journal import Journal
from filmhand.journal.states import JobStage, SheetStage
from filmhand.units import MM2_PER_M2


@dataclass(frozen=True)
class Came:
    """An artwork that was ordered: how much of it, when it came and when it is due, and what of it lies on no sheet."""

    folder: str
    printer: str
    """The name of its printer file; empty: the shop's own."""
    stage: JobStage
    arrived: datetime
    due: datetime | None
    copies: int
    unplaced: int
    """Copies that lie on no sheet that counts."""
    size_mm: tuple[float, float] | None
    """Printed width and height of a copy; None before it was prepared."""


@dataclass(frozen=True)
class Laid:
    """A sheet that is laid out: its film, and what lies on it."""

    name: str
    folder: str
    printer: str
    stage: SheetStage
    film_m2: float
    copies: int
    print_m2: float | None
    """Printed width times height of all its copies; None where that is unknown of one."""
    due: datetime | None
    """The first time that something on it is due."""


def came(journal: Journal, *, since: datetime) -> tuple[Came, ...]:
    """Artworks that came at or after `since`, and older ones that are not on film yet, in order of arrival."""
    query = (
        "SELECT job.*, (SELECT count(DISTINCT copy) FROM placement WHERE placement.job = job.id AND live) AS placed"
        " FROM job WHERE role = 'artwork' AND (stage IN ('claimed', 'waiting') OR datetime(arrived) >= datetime(?)) ORDER BY seq"
    )
    return tuple(_came(row) for row in journal.rows(query, since.isoformat()))


def laid(journal: Journal, *, since: datetime) -> tuple[Laid, ...]:
    """Sheets that are laid out and not cancelled, the oldest first; delivered ones from `since` on."""
    query = (
        "SELECT sheet.*, count(*) AS copies, count(area) AS known, sum(area) AS print_mm2, group_concat(DISTINCT due) AS dues"
        " FROM sheet JOIN (SELECT DISTINCT sheet, job, copy FROM placement WHERE live) AS lies ON lies.sheet = sheet.id"
        " JOIN (SELECT id, json_extract(ticket, '$.due') AS due, json_extract(prepared, '$.width_mm')"
        " * json_extract(prepared, '$.height_mm') AS area FROM job) AS design ON design.id = lies.job"
        " WHERE length_mm > 0 AND stage <> 'cancelled' AND (stage <> 'delivered' OR datetime(since) >= datetime(?))"
        " GROUP BY sheet.id ORDER BY sheet.id"
    )
    return tuple(_laid(row) for row in journal.rows(query, since.isoformat()))


def begun(journal: Journal) -> date | None:
    """The day on which the shop's first job came; None: nothing ever did."""
    ((first,),) = journal.rows("SELECT arrived FROM job ORDER BY seq LIMIT 1") or ((None,),)
    return None if first is None else datetime.fromisoformat(first).date()


def _came(row: sqlite3.Row) -> Came:
    prepared, due = json.loads(row["prepared"]), json.loads(row["ticket"])["due"]
    return Came(
        folder=row["folder"],
        printer=row["printer"],
        stage=JobStage(row["stage"]),
        arrived=datetime.fromisoformat(row["arrived"]),
        due=None if due is None else _local(due),
        copies=row["copies"],
        unplaced=row["copies"] - row["placed"],
        size_mm=(prepared["width_mm"], prepared["height_mm"]) if "width_mm" in prepared else None,
    )


def _laid(row: sqlite3.Row) -> Laid:
    dues = [_local(due) for due in (row["dues"] or "").split(",") if due]
    return Laid(
        name=row["name"],
        folder=row["folder"],
        printer=row["printer"],
        stage=SheetStage(row["stage"]),
        film_m2=row["film_width_mm"] * row["length_mm"] / MM2_PER_M2,
        copies=row["copies"],
        print_m2=row["print_mm2"] / MM2_PER_M2 if row["known"] == row["copies"] else None,
        due=min(dues, default=None),
    )


def _local(due: str) -> datetime:
    """A time as a ticket has it; one without a zone is the shop's."""
    return datetime.fromisoformat(due).astimezone()
