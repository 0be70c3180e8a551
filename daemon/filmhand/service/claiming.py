"""Claiming an arrival ①: spool it, read its ticket, commit its row. Removing the source comes after, as an action of its own."""

import secrets
from datetime import datetime
from pathlib import Path
from typing import Final

from filmhand.intake.claim import Spooled, remove_source, spool
from filmhand.intake.listing import Entry
from filmhand.intake.read_ticket import read_ticket
from filmhand.intake.ticket import Ticket
from filmhand.journal import jobs
from filmhand.journal.journal import Journal
from filmhand.journal.records import Job, JobId, Source
from filmhand.journal.states import JobStage
from filmhand.preflight.finding import Finding
from filmhand.rules import RuleFile
from filmhand.service.actions import Arrival, RemoveSource
from filmhand.shop import Shop

_TICKET_MOST_BYTES: Final = 1 << 20
_LETTERS: Final = "abcdefghjkmnpqrstuvwxyz23456789"  # none that a person misreads


def claim(shop: Shop, journal: Journal, arrival: Arrival, *, rule: RuleFile, at: datetime) -> Job | None:
    """Make a settled file ours. None when it changed meanwhile: the next listing sees it anew. OSError: try again later."""
    job = JobId("".join(secrets.choice(_LETTERS) for _ in range(8)))
    artwork = _spool(shop, arrival.artwork, shop.spool / job)
    if artwork is None:
        return None
    sources = [_source(job, "artwork", arrival.artwork, artwork)]
    ticket_text = None
    if arrival.ticket is not None:
        ticket_file = _spool(shop, arrival.ticket, shop.spool / f"{job}.ticket")
        if ticket_file is None:
            artwork.path.unlink()
            return None
        sources.append(_source(job, "ticket", arrival.ticket, ticket_file))
        ticket_text = _text(ticket_file.path)
    record = _record(
        job,
        arrival.artwork,
        artwork.digest,
        read_ticket(arrival.artwork.name, ticket_file=ticket_text, rule=rule.general),
        rule=rule,
        at=at,
    )
    jobs.claim(journal, record, sources)
    return record


def finish(shop: Shop, journal: Journal, action: RemoveSource, *, at: datetime) -> None:
    """Remove a source whose copy and row are durable, and commit that. OSError: try again later."""
    source = action.source
    remove_source(shop.inbox / action.folder / source.name, source.fingerprint, f"{source.job}.{source.role}")
    jobs.source_removed(journal, source, at=at)


def drop_strays(shop: Shop, journal: Journal) -> int:
    """Remove spool files that no committed row owns: claims that a crash cut short, whose sources are in the hot folders."""
    strays = 0
    for path in shop.spool.iterdir():
        owner = jobs.find(journal, path.name.split(".")[0])
        if owner is None or path.suffix == ".part":
            path.unlink()
            strays += 1
    return strays


def _spool(shop: Shop, entry: Entry, target: Path) -> Spooled | None:
    return spool(shop.inbox / entry.folder / entry.name, entry, target)


def _text(path: Path) -> str:
    with path.open("rb") as file:
        return file.read(_TICKET_MOST_BYTES).decode("utf-8", "replace")


def _source(job: JobId, role: str, entry: Entry, spooled: Spooled) -> Source:
    return Source(job, role, entry.name, spooled.fingerprint, spooled.digest)


def _record(job: JobId, entry: Entry, digest: str, ticket: Ticket | Finding, *, rule: RuleFile, at: datetime) -> Job:
    findings: tuple[Finding, ...] = ()
    if isinstance(ticket, Finding):
        findings, ticket = (ticket,), Ticket(copies=rule.general.ticket.copies, garment=rule.general.garment)
    return Job(
        id=job,
        seq=0,
        folder=entry.folder,
        name=entry.name,
        digest=digest,
        size_bytes=entry.fingerprint.size,
        stage=JobStage.CLAIMED,
        attempt=0,
        approved=False,
        copies=ticket.copies or 1,
        ticket=ticket,
        arrived=at,
        since=at,
        findings=findings,
        rule_digest=rule.digest,
    )
