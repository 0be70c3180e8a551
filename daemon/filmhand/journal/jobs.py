"""What may happen to a job, one verb a commit. Each checks the move against states.py and leaves an event."""

import json
import os
import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from functools import lru_cache
from typing import Any, Final

from filmhand.intake.listing import Fingerprint
from filmhand.intake.ticket import Ticket
from filmhand.journal.journal import Journal, name_bytes
from filmhand.journal.moves import Subject, move, tell
from filmhand.journal.records import Expected, Job, JobId, JobRole, SheetId, Source, to_json
from filmhand.journal.states import JobStage
from filmhand.preflight.finding import Finding

_REMEMBERED: Final = 16_384

FILED = {
    JobStage.HOLDING: JobStage.HELD,
    JobStage.REJECTING: JobStage.REJECTED,
    JobStage.DELIVERED: JobStage.ARCHIVED,
    JobStage.SPENT: JobStage.ARCHIVED,
}


@dataclass(frozen=True)
class New:
    """A job to be, with what belongs to its claim: sources to remove, lines that it takes, lines that it brings."""

    job: Job
    sources: tuple[Source, ...] = ()
    takes: tuple[Expected, ...] = ()
    brings: tuple[Expected, ...] = ()


def claim(journal: Journal, *new: New) -> None:
    """① Spooled copies become jobs; from here on we own them, and their sources wait to be removed."""
    with journal.commit() as cursor:
        for one in new:
            _insert(cursor, one)


def split(journal: Journal, parent: JobId, *parts: New, findings: Iterable[Finding], at: datetime) -> None:
    """What a container holds becomes jobs of its own, and the container is spent, together."""
    with journal.commit() as cursor:
        for part in parts:
            _insert(cursor, part)
        found = {"findings": _findings_json(findings), "role": JobRole.CONTAINER}
        move(cursor, Subject.job(parent), JobStage.SPENT, at=at, **found)


def _insert(cursor: sqlite3.Connection, new: New) -> None:
    job = new.job
    (seq,) = cursor.execute("SELECT coalesce(max(seq), 0) + 1 FROM job").fetchone()
    columns = {
        "id": job.id,
        "seq": seq,
        "folder": job.folder,
        "name": name_bytes(job.name),
        "digest": job.digest,
        "size_bytes": job.size_bytes,
        "stage": job.stage,
        "copies": job.copies,
        "ticket": job.ticket.model_dump_json(),
        "arrived": job.arrived.isoformat(),
        "since": job.since.isoformat(),
        "findings": _findings_json(job.findings),
        "rule_digest": job.rule_digest,
        "role": job.role,
        "page": job.page,
        "parent": job.parent,
        "printer": job.printer,
    }
    cursor.execute(f"INSERT INTO job ({', '.join(columns)}) VALUES ({', '.join('?' * len(columns))})", tuple(columns.values()))
    cursor.executemany(
        "INSERT INTO source (job, role, name, device, inode, size_bytes, mtime_ns, digest) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        [_source_values(source) for source in new.sources],
    )
    cursor.executemany(
        "INSERT INTO order_line (list, line, file, ticket, fault) VALUES (?, ?, ?, ?, ?)",
        [(job.id, line.line, name_bytes(line.file), *_ordered_values(line.ticket)) for line in new.brings],
    )
    cursor.executemany(
        "UPDATE order_line SET job = ? WHERE list = ? AND line = ?", [(job.id, line.list, line.line) for line in new.takes]
    )
    tell(cursor, Subject.job(job.id), "claimed", at=job.arrived, stage=job.stage, folder=job.folder)


def source_removed(journal: Journal, source: Source, *, at: datetime) -> None:
    """The hot folder no longer has what we copied."""
    with journal.commit() as cursor:
        cursor.execute("UPDATE source SET removed = 1 WHERE job = ? AND role = ?", (source.job, source.role))
        tell(cursor, Subject.job(source.job), "source-removed", at=at, role=source.role)


def prepared(journal: Journal, job: JobId, facts: dict[str, Any], *, findings: Iterable[Finding], at: datetime) -> None:
    """The separation is in the cache: its copies wait for a sheet, which is opened if there is none."""
    with journal.commit() as cursor:
        move(cursor, Subject.job(job), JobStage.WAITING, at=at, prepared=to_json(facts), findings=_findings_json(findings))
        folder, printer = cursor.execute("SELECT folder, printer FROM job WHERE id = ?", (job,)).fetchone()
        open_sheet(cursor, folder, printer, at=at, close_asked=False)


def set_aside(journal: Journal, job: Job, stage: JobStage, *, place: str, at: datetime) -> None:
    """It goes to held/ or rejects/ under a chosen name, with what was found of it; filing it there comes next.

    `stage` is HOLDING or REJECTING; of `job`, the findings and the facts are kept.
    """
    with journal.commit() as cursor:
        found = {"findings": _findings_json(job.findings), "prepared": to_json(job.prepared)}
        move(cursor, Subject.job(job.id), stage, at=at, place=place, **found)


def filed(journal: Journal, job: Job, *, at: datetime) -> None:
    """The folder or file under the chosen name is complete."""
    with journal.commit() as cursor:
        move(cursor, Subject.job(job.id), FILED[job.stage], at=at)


def spent(journal: Journal, job: JobId, *, at: datetime) -> None:
    """Every line of an order list was taken."""
    with journal.commit() as cursor:
        move(cursor, Subject.job(job), JobStage.SPENT, at=at)


def released(journal: Journal, job: JobId, *, at: datetime) -> None:
    """A person said yes to a held job: it is prepared again, and what would hold it no longer does."""
    with journal.commit() as cursor:
        move(cursor, Subject.job(job), JobStage.CLAIMED, at=at, kind="released", approved=1, attempt=0, place=None)


def refused(journal: Journal, job: JobId, *, place: str, at: datetime) -> None:
    """A person said no to a held job: it goes to rejects/."""
    with journal.commit() as cursor:
        move(cursor, Subject.job(job), JobStage.REJECTING, at=at, kind="refused", place=place)


def prepare_again(journal: Journal, job: JobId, *, at: datetime) -> None:
    """The cache lost its separation: it is prepared anew before its copies can lie on a sheet."""
    with journal.commit() as cursor:
        move(cursor, Subject.job(job), JobStage.CLAIMED, at=at, attempt=0)


def by_stage(journal: Journal, *stages: JobStage) -> list[Job]:
    """Jobs in any of the stages, in order of arrival."""
    marks = ", ".join("?" * len(stages))
    return [_job(row) for row in journal.rows(f"SELECT * FROM job WHERE stage IN ({marks}) ORDER BY seq", *stages)]


def touched(journal: Journal, *, since: datetime) -> list[Job]:
    """Jobs that came to their stage at or after an instant, in order of arrival."""
    rows = journal.rows("SELECT * FROM job WHERE datetime(since) >= datetime(?) ORDER BY seq", since.isoformat())
    return [job for job in map(_job, rows) if job.since >= since]  # SQLite's datetime() drops parts of a second


def find(journal: Journal, job: str) -> Job | None:
    """A job by its id."""
    return next((_job(row) for row in journal.rows("SELECT * FROM job WHERE id = ?", job)), None)


def expected(journal: Journal) -> tuple[Expected, ...]:
    """Lines of order lists that no artwork has taken, those of the oldest list first."""
    query = (
        "SELECT order_line.*, job.folder FROM order_line JOIN job ON job.id = order_line.list"
        " WHERE order_line.job IS NULL AND job.stage = 'expecting' ORDER BY job.seq, order_line.line"
    )
    return tuple(
        Expected(row["list"], row["line"], row["folder"], os.fsdecode(row["file"]), _ordered(row)) for row in journal.rows(query)
    )


def earlier_same(journal: Journal, digest: str) -> Job | None:
    """The last job of the same content that came to be printed."""
    query = "SELECT * FROM job WHERE digest = ? AND role = 'artwork' ORDER BY seq DESC LIMIT 1"
    return next((_job(row) for row in journal.rows(query, digest)), None)


def on_sheet(journal: Journal, sheet: SheetId) -> list[Job]:
    """Jobs with copies on a sheet, in order of arrival."""
    query = "SELECT * FROM job WHERE id IN (SELECT job FROM placement WHERE sheet = ? AND live) ORDER BY seq"
    return [_job(row) for row in journal.rows(query, sheet)]


def unplaced(journal: Journal, folder: str, printer: str = "") -> list[tuple[Job, tuple[int, ...]]]:
    """Jobs of a hot folder that wait for a printer's sheet, in order of arrival, each with its copies that lie on no sheet."""
    query = "SELECT job, copy FROM placement WHERE live AND job IN (SELECT id FROM job WHERE stage = 'waiting' AND folder = ?)"
    placed: dict[str, set[int]] = {}
    for row in journal.rows(query, folder):
        placed.setdefault(row["job"], set()).add(row["copy"])
    waiting = [job for job in by_stage(journal, JobStage.WAITING) if (job.folder, job.printer) == (folder, printer)]
    return [(job, tuple(n for n in range(1, job.copies + 1) if n not in placed.get(job.id, set()))) for job in waiting]


def pending_sources(journal: Journal) -> list[tuple[str, Source]]:
    """Sources still to be removed, each with its hot folder."""
    query = "SELECT source.*, job.folder FROM source JOIN job ON job.id = source.job WHERE NOT removed ORDER BY job.seq"
    return [(row["folder"], _source(row)) for row in journal.rows(query)]


def places_taken(journal: Journal, job: Job) -> frozenset[str]:
    """Names chosen for other jobs of the same hot folder whose filing is not over."""
    query = "SELECT place FROM job WHERE folder = ? AND id <> ? AND place IS NOT NULL AND stage NOT IN ('archived', 'rejected')"
    return frozenset(row["place"] for row in journal.rows(query, job.folder, job.id))


def open_sheet(cursor: sqlite3.Connection, folder: str, printer: str, *, at: datetime, close_asked: bool) -> None:
    """Open a printer's sheet for a hot folder unless one is open. Its name has the journal's number: it is never used again."""
    if cursor.execute("SELECT 1 FROM sheet WHERE folder = ? AND printer = ? AND stage = 'open'", (folder, printer)).fetchone():
        return
    (number,) = cursor.execute("SELECT coalesce(max(id), 0) + 1 FROM sheet").fetchone()
    name = f"{folder}-{at:%Y%m%d}-{number:04d}"
    cursor.execute(
        "INSERT INTO sheet (name, folder, printer, stage, close_asked, opened, since) VALUES (?, ?, ?, 'open', ?, ?, ?)",
        (name, folder, printer, close_asked, at.isoformat(), at.isoformat()),
    )


def _job(row: sqlite3.Row) -> Job:
    return Job(
        id=row["id"],
        seq=row["seq"],
        folder=row["folder"],
        name=os.fsdecode(row["name"]),
        digest=row["digest"],
        size_bytes=row["size_bytes"],
        stage=JobStage(row["stage"]),
        attempt=row["attempt"],
        approved=bool(row["approved"]),
        copies=row["copies"],
        ticket=_ticket(row["ticket"]),
        arrived=datetime.fromisoformat(row["arrived"]),
        since=datetime.fromisoformat(row["since"]),
        place=row["place"],
        findings=_findings(row["findings"]),
        prepared=json.loads(row["prepared"]),
        rule_digest=row["rule_digest"],
        role=JobRole(row["role"]),
        page=row["page"],
        parent=row["parent"],
        printer=row["printer"],
    )


def _ordered_values(ticket: Ticket | Finding) -> tuple[str | None, str | None]:
    """The columns `ticket` and `fault` of an order line."""
    return (None, to_json(ticket.to_json())) if isinstance(ticket, Finding) else (ticket.model_dump_json(), None)


def _ordered(row: sqlite3.Row) -> Ticket | Finding:
    return Finding.from_json(json.loads(row["fault"])) if row["ticket"] is None else _ticket(row["ticket"])


# Every listing reads every active row; what stands in them seldom changes, so that its text is parsed once.


@lru_cache(maxsize=_REMEMBERED)
def _findings(text: str) -> tuple[Finding, ...]:
    return tuple(Finding.from_json(values) for values in json.loads(text))


@lru_cache(maxsize=_REMEMBERED)
def _ticket(text: str) -> Ticket:
    values: dict[str, Any] = json.loads(text)
    if values["due"] is not None:
        values["due"] = datetime.fromisoformat(values["due"])
    return Ticket.model_construct(**{**dict(Ticket()), **values})


def _source(row: sqlite3.Row) -> Source:
    fingerprint = Fingerprint(int(row["device"]), int(row["inode"]), row["size_bytes"], row["mtime_ns"])
    return Source(row["job"], row["role"], os.fsdecode(row["name"]), fingerprint, row["digest"], bool(row["removed"]))


def _source_values(source: Source) -> tuple[Any, ...]:
    print_ = source.fingerprint
    name = name_bytes(source.name)
    return (
        source.job,
        source.role,
        name,
        str(print_.device),
        str(print_.inode),
        print_.size,
        print_.mtime_ns,
        source.digest,
    )


def _findings_json(findings: Iterable[Finding]) -> str:
    return to_json([finding.to_json() for finding in findings])
