"""What the loop can be told to do next: frozen values that decide.py returns and hand.py carries out."""

from dataclasses import dataclass
from enum import StrEnum

from filmhand.intake.listing import Entry
from filmhand.journal.records import Expected, Job, SheetRecord, Source


@dataclass(frozen=True)
class Arrival:
    """A settled file in a hot folder: an artwork, with its settled ticket file if it has one; an order list; a lone ticket."""

    file: Entry
    ticket: Entry | None = None
    waited: float = 0.0
    """Seconds since it last changed."""
    awaits_list: bool = False
    """An order list beside it, which may name it, has not settled yet."""


class Answer(StrEnum):
    """What a person says to what is held."""

    RELEASE = "release"
    REFUSE = "refuse"


@dataclass(frozen=True)
class RemoveSource:
    """Take a file that we have copied out of its hot folder."""

    folder: str
    source: Source


@dataclass(frozen=True)
class Claim:
    """① Make a settled file ours. `lines`: those of an order list that order it, each of which becomes a job."""

    arrival: Arrival
    lines: tuple[Expected, ...] = ()


@dataclass(frozen=True)
class Prepare:
    """Open, look, size and separate a job's artwork, in a child process."""

    job: Job


@dataclass(frozen=True)
class EndList:
    """Every line of an order list was taken, or it waited long enough. Of a ticket alone: say that no artwork came."""

    job: Job
    missing: tuple[Expected, ...]


@dataclass(frozen=True)
class GiveUp:
    """Set a job aside for a person: its attempts are spent."""

    job: Job


@dataclass(frozen=True)
class FileAway:
    """Lay a job's folder under held/ or rejects/, or its original under done/."""

    job: Job


@dataclass(frozen=True)
class AnswerJob:
    """Carry out a person's word on a held job."""

    job: Job
    answer: Answer


@dataclass(frozen=True)
class LayOut:
    """Close an open sheet: lay its waiting copies out, in a child process."""

    sheet: SheetRecord
    why: str


@dataclass(frozen=True)
class MakeSheet:
    """Compose a sealed sheet, in a child process."""

    sheet: SheetRecord


@dataclass(frozen=True)
class HoldSheet:
    """Set a sheet aside for a person: its attempts are spent."""

    sheet: SheetRecord


@dataclass(frozen=True)
class Deliver:
    """② Hand a staged sheet over."""

    sheet: SheetRecord


Action = RemoveSource | Claim | Prepare | EndList | GiveUp | FileAway | AnswerJob | LayOut | MakeSheet | HoldSheet | Deliver


def key_of(action: Action) -> str:
    """What an action is about, so that the same is not begun twice and a failed one can be paused."""
    match action:
        case RemoveSource(_, source):
            about = f"{source.job}/{source.role}"
        case Claim(arrival):
            about = f"{arrival.file.folder}/{arrival.file.name}"
        case Prepare(job) | EndList(job, _) | GiveUp(job) | FileAway(job) | AnswerJob(job, _):
            about = job.id
        case LayOut(sheet, _) | MakeSheet(sheet) | HoldSheet(sheet) | Deliver(sheet):
            about = sheet.name
    return f"{type(action).__name__} {about}"
