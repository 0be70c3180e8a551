"""What waits at an instant, and why: for the night's report."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime

from filmhand.journal import jobs, sheets
from filmhand.journal.journal import Journal
from filmhand.journal.records import Job, SheetRecord
from filmhand.journal.states import ACTIVE_SHEETS, JobStage, SheetStage
from filmhand.notices import night_words as words
from filmhand.shop import House
from filmhand.words import counted


@dataclass(frozen=True)
class WaitLine:
    """Something that waits, for people."""

    what: str
    why: str
    since: datetime | None = None
    do: str = ""
    """What a person does about it; empty where it goes on by itself."""

    @property
    def needs_somebody(self) -> bool:
        """Whether it goes on only when a person acts."""
        return bool(self.do)


def what_waits(journal: Journal, house: House) -> tuple[WaitLine, ...]:
    """What needs a person first, then sheets, then what is still to be prepared."""
    lines = (*_held_jobs(journal), *_sheets(journal, house), *_to_prepare(journal, house), *_lists(journal))
    return tuple(sorted(lines, key=lambda line: not line.needs_somebody))


def _held_jobs(journal: Journal) -> Iterator[WaitLine]:
    for job in jobs.by_stage(journal, JobStage.HOLDING, JobStage.HELD):
        why = str(job.worst.message) if job.worst is not None else "a person must decide"
        yield WaitLine(job.shown_name, why, job.since, words.HELD_DO.format(id=job.id))


def _sheets(journal: Journal, house: House) -> Iterator[WaitLine]:
    for sheet in sheets.by_stage(journal, *ACTIVE_SHEETS):
        if sheet.stage is SheetStage.HELD:
            yield WaitLine(sheet.name, sheet.why, sheet.since, words.HELD_DO.format(id=sheet.name))
        elif sheet.stage is SheetStage.OPEN:
            unplaced = [(job, len(copies)) for job, copies in jobs.unplaced(journal, sheet.folder, sheet.printer) if copies]
            if unplaced:
                yield WaitLine(*_open(sheet, unplaced, house))
        else:
            yield WaitLine(sheet.name, words.COMPOSING if sheet.stage is SheetStage.SEALED else words.HANDING_OVER, sheet.since)


def _open(sheet: SheetRecord, unplaced: list[tuple[Job, int]], house: House) -> tuple[str, str, datetime]:
    """An open sheet: how much waits for it, what closes it, and since when the oldest waits."""
    copies = sum(number for _, number in unplaced)
    what = f"{sheet.folder}: {counted(copies, 'copy', 'copies')} of {counted(len(unplaced), 'file', 'files')}"
    is_there = sheet.folder in house.rules and sheet.printer in house.printers
    why = words.closes(house.rules[sheet.folder].general.gang.close) if is_there else words.NO_RULE
    return what, why, min(job.since for job, _ in unplaced)


def _to_prepare(journal: Journal, house: House) -> Iterator[WaitLine]:
    claimed = jobs.by_stage(journal, JobStage.CLAIMED)
    for folder in sorted({job.folder for job in claimed}):
        here = [job for job in claimed if job.folder == folder]
        why = words.PREPARING.format(files=counted(len(here), "file", "files"))
        lost = folder not in house.rules or any(job.printer not in house.printers for job in here)
        yield WaitLine(folder, f"{why}: {words.NO_RULE}" if lost else why, min(job.since for job in here))


def _lists(journal: Journal) -> Iterator[WaitLine]:
    expected = jobs.expected(journal)
    for job in jobs.by_stage(journal, JobStage.EXPECTING):
        missing = sum(line.list == job.id for line in expected)
        yield WaitLine(job.shown_name, words.LIST_WAITS.format(count=missing), job.since)
