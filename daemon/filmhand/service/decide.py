"""What to do next: pure. Everything known goes in as one frozen view; a list of actions comes out, most urgent first."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from enum import Enum
from typing import Final

from filmhand.intake.away import place_of
from filmhand.intake.listing import EntryKind
from filmhand.intake.pairing import lines_for
from filmhand.journal.records import Expected, Job, SheetRecord, Source
from filmhand.journal.states import JobStage, SheetStage
from filmhand.rules import RuleFile
from filmhand.service.actions import (
    Action,
    Answer,
    AnswerJob,
    Arrival,
    Claim,
    Deliver,
    EndList,
    FileAway,
    GiveUp,
    HoldSheet,
    LayOut,
    MakeSheet,
    Prepare,
    RemoveSource,
    key_of,
)
from filmhand.service.closing import Waiting, reason_to_close
from filmhand.service.held_up import held_up, not_ours_yet

CLAIMS_AT_ONCE: Final = 100
"""A claim takes some 10 ms on a plain disk: so work begins, and answers are heard, within about a second of a burst."""
_TAKES_ROOM: Final = (Claim, EndList, Prepare, LayOut, MakeSheet)
"""What is not done without room on the disk. An order list does not end then, for its artwork may lie there unclaimed."""


class Mode(Enum):
    """How the loop runs."""

    DAEMON = "daemon"
    BATCH = "batch"
    """Prepare what is there, close every sheet, end."""
    ANSWERS = "answers"
    """Carry out what a person said, begin no work, end."""


@dataclass(frozen=True)
class View:
    """All that is known at one instant."""

    arrivals: tuple[Arrival, ...] = ()
    still_settling: int = 0
    """Files that may yet become arrivals."""
    pending: tuple[tuple[str, Source], ...] = ()
    jobs: tuple[Job, ...] = ()
    sheets: tuple[SheetRecord, ...] = ()
    waiting: Mapping[str, Waiting] = field(default_factory=dict)
    """By open sheet."""
    expected: tuple[Expected, ...] = ()
    """Lines of order lists that no artwork has taken."""
    answers: tuple[tuple[Job, Answer], ...] = ()
    rules: Mapping[str, RuleFile] = field(default_factory=dict)
    printers: frozenset[str] = frozenset({""})
    """Names of the printers there are, as jobs and sheets name them."""
    busy: frozenset[str] = frozenset()
    """Keys of actions under way in child processes."""
    paused: frozenset[str] = frozenset()
    """Keys of actions that failed a short while ago."""
    away: frozenset[str] = frozenset()
    """Places that are offline: "in/dark", "out"."""
    back: Mapping[str, datetime] = field(default_factory=dict)
    """When places that had been offline came back."""
    free_workers: int = 0
    short_of_space: tuple[str, ...] = ()
    """Folders of the shop on whose disk too little is free: nothing is begun that takes more of it."""


def decide(view: View, *, now: datetime, mode: Mode, attempts: int) -> tuple[Action, ...]:
    """The actions to carry out now, in this order. What needs a worker is limited to the workers that are free."""
    view = replace(view, arrivals=not_ours_yet(view.arrivals, view.pending))
    at_once = [action for action in _at_once(view, now=now, mode=mode, attempts=attempts) if key_of(action) not in view.paused]
    at_once = [action for action in at_once if not held_up(action, view.away)]
    if mode is Mode.ANSWERS:
        return tuple(action for action in at_once if not isinstance(action, Claim | EndList | Deliver))
    work = [
        action for action in _work(view, now=now, mode=mode, attempts=attempts) if key_of(action) not in view.busy | view.paused
    ]
    work = [action for action in work if not held_up(action, view.away)]
    due = (*_no_burst(_unless_taken_now(at_once)), *work[: view.free_workers])
    return tuple(action for action in due if not isinstance(action, _TAKES_ROOM)) if view.short_of_space else due


def stopped_by_space(view: View, *, now: datetime, mode: Mode, attempts: int) -> bool:
    """Whether there is something to do that only waits for room on the disk."""
    if not view.short_of_space:
        return False
    with_room = replace(view, short_of_space=())
    return any(isinstance(action, _TAKES_ROOM) for action in decide(with_room, now=now, mode=mode, attempts=attempts))


def _unless_taken_now(actions: Sequence[Action]) -> Iterator[Action]:
    """All but the end of an order list some of whose missing artwork is about to be claimed: it was there, and had to wait."""
    taken = [line for action in actions if isinstance(action, Claim) for line in action.lines]
    yield from (action for action in actions if not (isinstance(action, EndList) and any(one in taken for one in action.missing)))


def _no_burst(actions: Iterable[Action]) -> Iterator[Action]:
    """So many claims at once at most: the rest comes with the next look, and work has begun by then."""
    claims = 0
    for action in actions:
        claims += isinstance(action, Claim)
        if not isinstance(action, Claim) or claims <= CLAIMS_AT_ONCE:
            yield action


def _at_once(view: View, *, now: datetime, mode: Mode, attempts: int) -> Iterator[Action]:
    """What the loop does itself."""
    yield from (RemoveSource(folder, source) for folder, source in view.pending)
    yield from (AnswerJob(job, answer) for job, answer in view.answers if job.stage is JobStage.HELD)
    for sheet in view.sheets:
        if sheet.stage in (SheetStage.STAGED, SheetStage.DELIVERING):
            yield Deliver(sheet)
        elif sheet.stage in (SheetStage.OPEN, SheetStage.SEALED) and sheet.attempt >= attempts and not _is_busy(view, sheet):
            yield HoldSheet(sheet)
    for job in view.jobs:
        if job.stage in (JobStage.HOLDING, JobStage.REJECTING, JobStage.DELIVERED, JobStage.SPENT):
            yield FileAway(job)
        elif job.stage is JobStage.CLAIMED and job.attempt >= attempts and key_of(Prepare(job)) not in view.busy:
            yield GiveUp(job)
    yield from _claims(view, mode)
    yield from _lists_that_end(view, now=now, mode=mode)


def _claims(view: View, mode: Mode) -> Iterator[Action]:
    """Order lists first; then artwork, unless a list that may name it comes first, or it needs a ticket that may yet come."""
    lists = [Claim(arrival) for arrival in view.arrivals if arrival.file.kind is EntryKind.LIST]
    yield from lists
    free = view.expected
    list_comes = {claim.arrival.file.folder for claim in lists if key_of(claim) not in view.paused}
    for arrival in view.arrivals:
        folder = arrival.file.folder
        wanted = view.rules[folder].general.ticket
        has_waited = arrival.waited >= wanted.wait or (mode is Mode.BATCH and not view.still_settling)
        if arrival.file.kind is EntryKind.TICKET and has_waited:
            yield Claim(arrival)
        elif arrival.file.kind is EntryKind.FILE and folder not in list_comes and (has_waited or not arrival.awaits_list):
            lines = lines_for(arrival.file.name, (line for line in free if line.folder == folder))
            if lines or arrival.ticket is not None or not wanted.needed or has_waited:
                yield Claim(arrival, lines)
                free = tuple(line for line in free if line not in lines)  # a line is followed once


def _lists_that_end(view: View, *, now: datetime, mode: Mode) -> Iterator[Action]:
    """Order lists whose every line was taken, or whose artwork had time enough to come."""
    for job in view.jobs:
        if job.stage is not JobStage.EXPECTING or job.folder not in view.rules:
            continue
        missing = tuple(line for line in view.expected if line.list == job.id)
        waits_from = max(job.since, view.back.get(place_of(job.folder), job.since))
        waits_until = waits_from + timedelta(seconds=view.rules[job.folder].general.ticket.wait)
        batch_ends = mode is Mode.BATCH and not _more_to_come(view, job.folder)
        if not missing or now >= waits_until or batch_ends:
            yield EndList(job, missing)


def _more_to_come(view: View, folder: str) -> bool:
    """Whether files in the hot folders, or in work, may yet become copies of this one."""
    in_work = any(job.folder == folder and job.stage is JobStage.CLAIMED for job in view.jobs)
    return bool(view.arrivals or view.still_settling or in_work)


def _work(view: View, *, now: datetime, mode: Mode, attempts: int) -> Iterator[Action]:
    """What child processes do: sheets that are sealed, for they are promised; sheets that are due, which would else wait as
    long as artwork keeps coming; artwork, rush orders first.
    """
    workable = [sheet for sheet in view.sheets if sheet.attempt < attempts and _can_work(view, sheet)]
    yield from (MakeSheet(sheet) for sheet in workable if sheet.stage is SheetStage.SEALED)
    for sheet in workable:
        if why := _why_closed_now(view, sheet, now=now, mode=mode):
            yield LayOut(sheet, why)
    claimed = [job for job in view.jobs if job.stage is JobStage.CLAIMED and job.attempt < attempts and _can_work(view, job)]
    yield from (Prepare(job) for job in sorted(claimed, key=lambda job: not job.ticket.rush))


def _why_closed_now(view: View, sheet: SheetRecord, *, now: datetime, mode: Mode) -> str | None:
    waiting = view.waiting.get(sheet.name)
    if sheet.stage is not SheetStage.OPEN or waiting is None:
        return None
    if mode is Mode.BATCH:
        return None if _more_to_come(view, sheet.folder) else "the batch ends"
    return reason_to_close(sheet, view.rules[sheet.folder].general.gang.close, waiting=waiting, now=now)


def _can_work(view: View, what: Job | SheetRecord) -> bool:
    """Whether its rule and its printer are there: settings that a person took away stop their own work and nothing else."""
    return what.folder in view.rules and what.printer in view.printers


def _is_busy(view: View, sheet: SheetRecord) -> bool:
    return bool({key_of(LayOut(sheet, "")), key_of(MakeSheet(sheet))} & view.busy)
