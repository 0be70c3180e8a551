"""What may happen to a job, one verb a commit. Each checks the move against states.py and leaves an event."""

import json
import os
import sqlite3
from collections.abc import Iterable
from datetime import datetime
from typing import Any

from filmhand.intake.listing import Fingerprint
from filmhand.intake.ticket import Ticket
from filmhand.journal.journal import Journal, name_bytes
from filmhand.journal.moves import Subject, move, tell
from filmhand.journal.records import Job, JobId, SheetId, Source, to_json
from filmhand.journal.states import JobStage
from filmhand.preflight.finding import Finding

FILED = {
    JobStage.HOLDING: JobStage.HELD,
    JobStage.REJECTING: JobStage.REJECTED,
    JobStage.DELIVERED: JobStage.ARCHIVED,
}


def claim(journal: Journal, job: Job, sources: Iterable[Source]) -> None:
    """① The spooled copy becomes a job; from here on we own it, and its sources wait to be removed."""
    with journal.commit() as cursor:
        (seq,) = cursor.execute("SELECT coalesce(max(seq), 0) + 1 FROM job").fetchone()
        cursor.execute(
            "INSERT INTO job"
            " (id, seq, folder, name, digest, size_bytes, stage, copies, ticket, arrived, since, findings, rule_digest)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            (
                job.id,
                seq,
                job.folder,
                name_bytes(job.name),
                job.digest,
                job.size_bytes,
                job.stage,
                job.copies,
                job.ticket.model_dump_json(),
                job.arrived.isoformat(),
                job.since.isoformat(),
                _findings_json(job.findings),
                job.rule_digest,
            ),
        )
        cursor.executemany(
            "INSERT INTO source (job, role, name, device, inode, size_bytes, mtime_ns, digest) VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            [_source_values(source) for source in sources],
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
        (folder,) = cursor.execute("SELECT folder FROM job WHERE id = ?", (job,)).fetchone()
        open_sheet(cursor, folder, at=at, close_asked=False)


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


def find(journal: Journal, job: str) -> Job | None:
    """A job by its id."""
    return next((_job(row) for row in journal.rows("SELECT * FROM job WHERE id = ?", job)), None)


def on_sheet(journal: Journal, sheet: SheetId) -> list[Job]:
    """Jobs with copies on a sheet, in order of arrival."""
    query = "SELECT * FROM job WHERE id IN (SELECT job FROM placement WHERE sheet = ? AND live) ORDER BY seq"
    return [_job(row) for row in journal.rows(query, sheet)]


def unplaced(journal: Journal, folder: str) -> list[tuple[Job, tuple[int, ...]]]:
    """Waiting jobs of a hot folder in order of arrival, each with the numbers of its copies that lie on no sheet."""
    query = "SELECT job, copy FROM placement WHERE live AND job IN (SELECT id FROM job WHERE stage = 'waiting' AND folder = ?)"
    placed: dict[str, set[int]] = {}
    for row in journal.rows(query, folder):
        placed.setdefault(row["job"], set()).add(row["copy"])
    waiting = [job for job in by_stage(journal, JobStage.WAITING) if job.folder == folder]
    return [(job, tuple(n for n in range(1, job.copies + 1) if n not in placed.get(job.id, set()))) for job in waiting]


def pending_sources(journal: Journal) -> list[tuple[str, Source]]:
    """Sources still to be removed, each with its hot folder."""
    query = "SELECT source.*, job.folder FROM source JOIN job ON job.id = source.job WHERE NOT removed ORDER BY job.seq"
    return [(row["folder"], _source(row)) for row in journal.rows(query)]


def places_taken(journal: Journal, job: Job) -> frozenset[str]:
    """Names chosen for other jobs of the same hot folder whose filing is not over."""
    query = "SELECT place FROM job WHERE folder = ? AND id <> ? AND place IS NOT NULL AND stage NOT IN ('archived', 'rejected')"
    return frozenset(row["place"] for row in journal.rows(query, job.folder, job.id))


def open_sheet(cursor: sqlite3.Connection, folder: str, *, at: datetime, close_asked: bool) -> None:
    """Open a sheet for a hot folder unless one is open. Its name has the date and the journal's number: it is never reused."""
    if cursor.execute("SELECT 1 FROM sheet WHERE folder = ? AND stage = 'open'", (folder,)).fetchone():
        return
    (number,) = cursor.execute("SELECT coalesce(max(id), 0) + 1 FROM sheet").fetchone()
    name = f"{folder}-{at:%Y%m%d}-{number:04d}"
    cursor.execute(
        "INSERT INTO sheet (name, folder, stage, close_asked, opened, since) VALUES (?, ?, 'open', ?, ?, ?)",
        (name, folder, close_asked, at.isoformat(), at.isoformat()),
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
        ticket=Ticket.model_construct(**_ticket_values(row["ticket"])),
        arrived=datetime.fromisoformat(row["arrived"]),
        since=datetime.fromisoformat(row["since"]),
        place=row["place"],
        findings=tuple(Finding.from_json(values) for values in json.loads(row["findings"])),
        prepared=json.loads(row["prepared"]),
        rule_digest=row["rule_digest"],
    )


def _ticket_values(text: str) -> dict[str, Any]:
    values: dict[str, Any] = json.loads(text)
    if values["due"] is not None:
        values["due"] = datetime.fromisoformat(values["due"])
    return values


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
