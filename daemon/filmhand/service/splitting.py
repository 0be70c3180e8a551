"""Taking a container apart: the files of an archive, or the pages of a PDF, become jobs of their own in one commit.

As with a claim, the spool has every file before the commit, and a start drops those without a row; the container is `claimed`
until the commit, and `spent` from then on.
"""

from collections.abc import Iterator
from pathlib import Path
from typing import Final

from filmhand import durable
from filmhand.errors import MachineError
from filmhand.intake.listing import Entry, EntryKind, Fingerprint, kind_of_name
from filmhand.intake.pairing import lines_for, tickets_by_artwork
from filmhand.intake.unpack import Part
from filmhand.journal import jobs
from filmhand.journal.jobs import New
from filmhand.journal.records import Job
from filmhand.service.claiming import Desk, Incoming, Orders, new_id, text_of
from filmhand.work.prepare import Prepared

_NOWHERE: Final = Fingerprint(0, 0, 0, 0)
"""The files of an archive lie in no hot folder."""


def split(desk: Desk, container: Job, prepared: Prepared, *, files: Path) -> tuple[Job, ...]:
    """Make jobs of what a container holds; its files lie in `files`. The container is spent. OSError: try again later."""
    is_archive = prepared.parts[0].page == 0
    if not all(part.file.isdecimal() if is_archive else part.file == "" for part in prepared.parts):
        raise MachineError("The work on an archive named files that are not its own", next_step="Refuse it, and look at the file")
    new = tuple(_files(desk, container, prepared.parts, files) if is_archive else _pages(desk, container, prepared.parts))
    durable.sync_folder(desk.shop.spool)
    jobs.split(desk.journal, container.id, *new, findings=prepared.report.findings, at=desk.at)
    return tuple(one.job for one in new)


def _pages(desk: Desk, container: Job, pages: tuple[Part, ...]) -> Iterator[New]:
    """Each page of a PDF is ordered as the whole file was."""
    for page in pages:
        incoming = _incoming(container, page)
        durable.copy(desk.shop.spool / container.id, desk.shop.spool / incoming.id)
        yield from desk.jobs_of(incoming, Orders(), kind=EntryKind.FILE)


def _files(desk: Desk, container: Job, parts: tuple[Part, ...], files: Path) -> Iterator[New]:
    """Order lists first, for they name artwork that lies beside them; then artwork with its tickets; tickets that are left."""
    entries = {part: Entry(container.folder, part.name, kind_of_name(part.name), _NOWHERE) for part in parts}
    tickets = tickets_by_artwork(entries.values())
    part_of = {entry.name: part for part, entry in entries.items()}
    used = {ticket.name for ticket in tickets.values()}
    open_lines = [line for line in jobs.expected(desk.journal) if line.folder == container.folder]
    for part in sorted(parts, key=lambda one: entries[one].kind is not EntryKind.LIST):
        kind = entries[part].kind
        if kind is EntryKind.TICKET and part.name in used:
            continue
        incoming = _incoming(container, part)
        (files / part.file).rename(desk.shop.spool / incoming.id)
        ticket = tickets.get(part.name)
        text = None if ticket is None else text_of(files / part_of[ticket.name].file)
        lines = lines_for(part.name, open_lines) if kind is EntryKind.FILE else ()
        for new in desk.jobs_of(incoming, Orders(text, lines), kind=kind):
            open_lines = [line for line in (*new.brings, *open_lines) if line not in new.takes]  # its own lists go first
            yield new


def _incoming(container: Job, part: Part) -> Incoming:
    return Incoming(new_id(), container.folder, part.name, part.digest, part.size_bytes, parent=container, page=part.page)
