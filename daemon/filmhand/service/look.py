"""Looking at the shop: its folders and its journal. Listing is truth; nothing is kept but how long each file is quiet."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path

import structlog

from filmhand.gang.fill import estimate_length_mm
from filmhand.intake import settle
from filmhand.intake.listing import Entry, EntryKind, looks_finished
from filmhand.intake.pairing import tickets_by_artwork
from filmhand.intake.settle import Key, Observation
from filmhand.journal import jobs, sheets
from filmhand.journal.journal import Journal
from filmhand.journal.records import Job, JobId, SheetRecord, shown
from filmhand.journal.states import JobStage, SheetStage
from filmhand.service import filing
from filmhand.service.actions import Answer, Arrival
from filmhand.service.closing import Waiting
from filmhand.service.tasks import lay_out_task
from filmhand.shop import House, Shop
from filmhand.work.lay_out import items_of, shapes_of

_log = structlog.get_logger()


@dataclass(frozen=True)
class Intake:
    """What the hot folders showed: files ready to claim, and files that may yet become ready."""

    observations: Mapping[Key, Observation] = field(default_factory=dict)
    arrivals: tuple[Arrival, ...] = ()
    settling: tuple[Key, ...] = ()


def look_at_hot_folders(shop: Shop, house: House, before: Intake, listed: Mapping[str, Iterable[Entry]], *, now: float) -> Intake:
    """Judge what has settled. `listed`: entries by hot folder; in one that is not there everything waits anew once it is back."""
    entries = [entry for folder in listed for entry in listed[folder]]
    seen = settle.observe(before.observations, entries, now=now)
    _say_what_is_left(entry for entry in entries if (entry.folder, entry.name) not in before.observations)
    quiet, patience = house.settings.quiet, house.settings.patience
    for observation in settle.to_look_at(seen.values(), now=now, quiet=quiet):
        entry = observation.entry
        finished = _looks_finished(shop.inbox / entry.folder / entry.name, entry)
        if finished is not None:
            seen[entry.folder, entry.name] = settle.looked_at(observation, finished=finished)
    settled = {key for key, seen_ in seen.items() if settle.is_settled(seen_, now=now, quiet=quiet, patience=patience)}
    arrivals = tuple(_arrivals(seen, settled, now=now))
    settling = tuple(
        key
        for key, observation in seen.items()
        if key not in settled and observation.entry.kind is not EntryKind.FOREIGN and observation.entry.fingerprint.size > 0
    )
    return Intake(seen, arrivals, settling)


def _say_what_is_left(new: Iterable[Entry]) -> None:
    """Said once, when it is first seen."""
    for entry in new:
        if entry.kind is EntryKind.FOREIGN:
            _log.warning(
                "no file (a folder, link, pipe or device): it is left alone", folder=entry.folder, name=shown(entry.name)
            )


def look_at_answers(shop: Shop, active: Iterable[Job]) -> tuple[tuple[Job, Answer], ...]:
    """What a person moved into `release/` or `refuse/` beside held folders: the folder itself, or only the file out of it."""
    held = [job for job in active if job.stage is JobStage.HELD]
    answered = [(folder, answer) for folder in {job.folder for job in held} for answer in Answer]
    moved = {pair for pair in answered if _has_something(shop.held / pair[0] / pair[1])}
    return tuple(
        (job, answer)
        for job in held
        for answer in Answer
        if (job.folder, answer) in moved and filing.answer_places(shop, job, answer)
    )


def _has_something(folder: Path) -> bool:
    return folder.is_dir() and next(folder.iterdir(), None) is not None


def look_at_waiting(shop: Shop, house: House, journal: Journal, before: Mapping[str, Waiting]) -> dict[str, Waiting]:
    """The copies that lie on no sheet yet, by open sheet.

    Where the same copies wait as `before` (of the same house), what was reckoned then is taken over.
    """
    waiting = {}
    for sheet in sheets.by_stage(journal, SheetStage.OPEN):
        unplaced = [(job, numbers) for job, numbers in jobs.unplaced(journal, sheet.folder, sheet.printer) if numbers]
        if not unplaced or sheet.folder not in house.rules or sheet.printer not in house.printers:
            continue
        copies = tuple((job.id, number) for job, numbers in unplaced for number in numbers)
        known = before.get(sheet.name)
        if known is None or known.copies != copies:
            known = _waiting([job for job, _ in unplaced], copies, _length_mm(shop, house, sheet, unplaced))
        waiting[sheet.name] = known
    return waiting


def _waiting(waiting: Sequence[Job], copies: tuple[tuple[JobId, int], ...], length_mm: float) -> Waiting:
    return Waiting(
        copies=copies,
        oldest=min(job.since for job in waiting),
        length_mm=length_mm,
        due=min((job.ticket.due for job in waiting if job.ticket.due is not None), key=datetime.timestamp, default=None),
        rush=any(job.ticket.rush for job in waiting),
    )


def _length_mm(shop: Shop, house: House, sheet: SheetRecord, unplaced: list[tuple[Job, tuple[int, ...]]]) -> float:
    """About the film that copies need, where the rule asks for it."""
    rules = house.rules[sheet.folder].general.gang
    if rules.close.length is None and rules.close.carry is None:
        return 0.0
    prepared = [(job, copies) for job, copies in unplaced if (shop.cache / job.id).is_dir()]
    unlabelled = rules.model_copy(update={"labels": False})  # finding each its label's place would hold the loop up
    task = replace(lay_out_task(shop, house, sheet, prepared), rules=unlabelled)
    return estimate_length_mm(items_of(task, shapes_of(task)), printer=task.printer, rules=rules)


def _looks_finished(path: Path, entry: Entry) -> bool | None:
    try:
        return looks_finished(path, entry.fingerprint.size)
    except OSError as problem:
        _log.info("file cannot be looked at yet", folder=entry.folder, file=entry.name, why=str(problem))
        return None


def _arrivals(seen: Mapping[Key, Observation], settled: set[Key], *, now: float) -> Iterable[Arrival]:
    """Settled files, each artwork with its ticket; one whose ticket has not settled yet waits for it."""
    for folder in sorted({folder for folder, _ in seen}):
        entries = [observation.entry for (name, _), observation in seen.items() if name == folder]
        tickets = tickets_by_artwork(entries)
        has_artwork = {ticket.name for ticket in tickets.values()}
        list_settles = any(
            entry.kind is EntryKind.LIST and entry.fingerprint.size > 0 and (folder, entry.name) not in settled
            for entry in entries
        )
        for entry in entries:
            waited = now - seen[folder, entry.name].unchanged_since
            ticket = tickets.get(entry.name)
            if (folder, entry.name) not in settled or entry.name in has_artwork:
                continue
            if ticket is None or (folder, ticket.name) in settled:
                yield Arrival(entry, ticket, waited, awaits_list=list_settles and ticket is None)
