"""Claiming ①: a settled file is spooled, its order read, its row committed. Removing the source comes after, as its own action.

An artwork becomes a job; one that an order list orders several times becomes as many. An order list, and a ticket whose artwork
never came, become jobs too, which wait or are sent back.
"""

import secrets
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Final

from filmhand import durable
from filmhand.intake.claim import Spooled, remove_source, spool
from filmhand.intake.inherited import inherited
from filmhand.intake.listing import Entry, EntryKind
from filmhand.intake.order_list import MOST_BYTES as LIST_MOST_BYTES
from filmhand.intake.order_list import read_order_list
from filmhand.intake.read_ticket import TICKET, read_ticket
from filmhand.intake.ticket import Ticket
from filmhand.journal import jobs
from filmhand.journal.jobs import New
from filmhand.journal.journal import Journal
from filmhand.journal.records import Expected, Job, JobId, JobRole, Source
from filmhand.journal.states import JobStage
from filmhand.preflight.finding import Finding, Severity
from filmhand.rules import Rule
from filmhand.service.actions import Claim, RemoveSource
from filmhand.service.sharing import film_to_print, least_loaded
from filmhand.shop import House, Shop
from filmhand.words import Phrase

REPEATED: Final = "repeated"
KNOWN_AT_CLAIM: Final = (TICKET, REPEATED)
"""Checks whose findings are made before a file is opened, and stay when it is prepared again."""

FILED_AWAY: Final = (JobStage.ARCHIVED, JobStage.REJECTED)
"""Stages in which the spool needs no copy any more."""

_TICKET_MOST_BYTES: Final = 1 << 20
_LETTERS: Final = "abcdefghjkmnpqrstuvwxyz23456789"  # none that a person misreads

_SAME: Final = Phrase("The same content came before, on {day}, as {file}.")
_SAME_ADVICE: Final = Phrase("If it was sent twice by mistake, tell the shop.")
_NO_TICKET: Final = Phrase("No ticket came for this artwork, and none of the order lists names it.")
_NO_TICKET_ADVICE: Final = Phrase("Send the order for it, or tell the shop to print it as its rule says.")
_NO_ARTWORK: Final = Phrase("This is a ticket, and the artwork that it belongs to never came.")
_NO_ARTWORK_ADVICE: Final = Phrase("Send the artwork and the ticket together, the ticket named like the artwork.")


@dataclass(frozen=True)
class Incoming:
    """A file of ours in the spool of which a job is to be made: claimed, out of an archive, or a page of a PDF."""

    id: JobId
    folder: str
    name: str
    digest: str
    size_bytes: int
    parent: Job | None = None
    page: int = 0


@dataclass(frozen=True)
class Orders:
    """What says how an artwork is ordered, beside its name: a ticket file's text, lines of an order list."""

    ticket_file: str | None = None
    lines: tuple[Expected, ...] = ()


def new_id() -> JobId:
    """An id that no job has: eight letters and figures out of thirty-one."""
    return JobId("".join(secrets.choice(_LETTERS) for _ in range(8)))


def claim(shop: Shop, house: House, journal: Journal, action: Claim, *, at: datetime) -> tuple[Job, ...]:
    """Make a settled file ours. Nothing when it changed meanwhile: the next listing sees it anew. OSError: try again later."""
    entry, ticket = action.arrival.file, action.arrival.ticket
    job = new_id()
    file = _spool(shop, entry, shop.spool / job)
    if file is None:
        return ()
    sources = [_source(job, "artwork", entry, file)]
    ticket_text = None
    if ticket is not None:
        ticket_file = _spool(shop, ticket, shop.spool / f"{job}.ticket")
        if ticket_file is None:
            file.path.unlink()
            return ()
        sources.append(_source(job, "ticket", ticket, ticket_file))
        ticket_text = text_of(ticket_file.path)
    incoming = Incoming(job, entry.folder, entry.name, file.digest, entry.fingerprint.size)
    desk = Desk(shop, house, journal, at)
    first, *more = desk.jobs_of(incoming, Orders(ticket_text, action.lines), kind=entry.kind)
    jobs.claim(journal, replace(first, sources=tuple(sources)), *more)
    return tuple(new.job for new in (first, *more))


@dataclass(frozen=True)
class Desk:
    """Where files of ours become jobs: reads what is ordered, and says what was seen before any file is opened."""

    shop: Shop
    house: House
    journal: Journal
    at: datetime

    def jobs_of(self, incoming: Incoming, orders: Orders, *, kind: EntryKind) -> tuple[New, ...]:
        """The jobs that a file becomes: one, or one a line of an order list. Copies in the spool are made, none is committed."""
        if kind is EntryKind.LIST:
            return (self._order_list(incoming),)
        if kind is EntryKind.TICKET:
            finding = Finding(TICKET, Severity.REJECT, _NO_ARTWORK(), _NO_ARTWORK_ADVICE())
            return (New(self._job(incoming, Ticket(), (finding,), role=JobRole.TICKET)),)
        return tuple(self._artworks(incoming, orders))

    def _artworks(self, incoming: Incoming, orders: Orders) -> Iterator[New]:
        known = tuple(self._known(incoming, orders))
        for place, line in enumerate(orders.lines or (None,)):
            ticket = self._ticket(incoming, orders.ticket_file, line)
            faults = known
            if isinstance(ticket, Finding):
                rule = self._rule(incoming)
                faults, ticket = (*known, ticket), Ticket(copies=rule.ticket.copies, garment=rule.garment)
            one = incoming
            if place > 0:
                one = replace(incoming, id=new_id())
                durable.copy(self.shop.spool / incoming.id, self.shop.spool / one.id)
                durable.sync_folder(self.shop.spool)
            yield New(self._job(one, ticket, faults), takes=() if line is None else (line,))

    def _ticket(self, incoming: Incoming, ticket_file: str | None, line: Expected | None) -> Ticket | Finding:
        """The ticket of one job: its ticket file goes before an order list, that before what its container was ordered with."""
        if line is not None and ticket_file is None:
            return line.ticket
        if incoming.parent is not None and incoming.page > 0:
            return incoming.parent.ticket
        rule, tables = self._rule(incoming), self.house.tables
        ticket = read_ticket(incoming.name, ticket_file=ticket_file, rule=rule, tables=tables)
        if incoming.parent is None or isinstance(ticket, Finding):
            return ticket
        unsaid = read_ticket("", ticket_file=None, rule=rule, tables=tables)
        assert isinstance(unsaid, Ticket)  # no file and no name: nothing that could not be followed
        return inherited(ticket, incoming.parent.ticket, unsaid=unsaid)

    def _order_list(self, incoming: Incoming) -> New:
        """An order list that waits for the artwork it names. Lines that cannot be followed send it back in the end."""
        with (self.shop.spool / incoming.id).open("rb") as file:
            data = file.read(LIST_MOST_BYTES + 1)
        orders = read_order_list(data, incoming.name, rule=self._rule(incoming), tables=self.house.tables)
        lines = tuple(Expected(incoming.id, line.line, incoming.folder, line.file, line.ticket) for line in orders.lines)
        return New(self._job(incoming, Ticket(), orders.faults, role=JobRole.ORDER_LIST), brings=lines)

    def _known(self, incoming: Incoming, orders: Orders) -> Iterator[Finding]:
        earlier = jobs.earlier_same(self.journal, incoming.digest) if incoming.page == 0 else None
        if earlier is not None:
            said = _SAME(day=f"{earlier.arrived:%Y-%m-%d}", file=earlier.shown_name)
            yield Finding(REPEATED, Severity.WARN, said, _SAME_ADVICE())
        has_ticket = orders.ticket_file is not None or orders.lines or incoming.parent is not None
        if self._rule(incoming).ticket.needed and not has_ticket:
            yield Finding(TICKET, Severity.HOLD, _NO_TICKET(), _NO_TICKET_ADVICE())

    def _job(self, incoming: Incoming, ticket: Ticket, findings: tuple[Finding, ...], *, role: JobRole = JobRole.ARTWORK) -> Job:
        return Job(
            id=incoming.id,
            seq=0,
            folder=incoming.folder,
            name=incoming.name,
            digest=incoming.digest,
            size_bytes=incoming.size_bytes,
            stage=JobStage.CLAIMED if role is JobRole.ARTWORK else JobStage.EXPECTING,
            attempt=0,
            approved=False,
            copies=ticket.copies or 1,
            ticket=ticket,
            arrived=self.at,
            since=self.at,
            findings=findings,
            rule_digest=self.house.rules[incoming.folder].digest,
            role=role,
            page=incoming.page,
            parent=None if incoming.parent is None else incoming.parent.id,
            printer=self._printer(incoming),
        )

    def _printer(self, incoming: Incoming) -> str:
        """The printer that a job is for: what comes in one container stays together."""
        names = self._rule(incoming).gang.printer_names
        if incoming.parent is not None and incoming.parent.printer in names:
            return incoming.parent.printer
        if len(names) == 1:
            return names[0]
        return least_loaded(names, self.house.printers, film_to_print(self.shop, self.journal))

    def _rule(self, incoming: Incoming) -> Rule:
        return self.house.rules[incoming.folder].general


def finish(shop: Shop, journal: Journal, action: RemoveSource, *, is_marked: bool, at: datetime) -> None:
    """Remove a source whose copy and row are durable, and commit that. OSError: try again later.

    `is_marked`: the hot folder had its marker once; without it, a source that is not seen is not taken for removed.
    """
    source = action.source
    path = shop.inbox / action.folder / source.name
    remove_source(path, Spooled(path, source.fingerprint, source.digest), f"{source.job}.{source.role}", is_marked=is_marked)
    jobs.source_removed(journal, source, at=at)


def drop_strays(shop: Shop, journal: Journal) -> int:
    """Remove spool files that no committed row owns: claims that a crash cut short, whose sources are in the hot folders.

    And those of jobs at their end, whose originals lie under done/ or rejects/. Returns how many there were of the former.
    """
    strays = 0
    for path in shop.spool.iterdir():
        owner = jobs.find(journal, path.name.split(".")[0])
        if owner is None or path.suffix == ".part":
            path.unlink()
            strays += 1
        elif owner.stage in FILED_AWAY:
            path.unlink()
    return strays


def text_of(path: Path) -> str:
    """The text of a ticket file, whatever is in it, up to a size that no ticket has."""
    with path.open("rb") as file:
        return file.read(_TICKET_MOST_BYTES).decode("utf-8", "replace")


def _spool(shop: Shop, entry: Entry, target: Path) -> Spooled | None:
    return spool(shop.inbox / entry.folder / entry.name, entry, target)


def _source(job: JobId, role: str, entry: Entry, spooled: Spooled) -> Source:
    return Source(job, role, entry.name, spooled.fingerprint, spooled.digest)
