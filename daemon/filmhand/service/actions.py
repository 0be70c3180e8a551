"""What the loop can be told to do next: frozen values that decide.py returns and hand.py carries out."""

from dataclasses import dataclass
from enum import StrEnum

from filmhand.intake.listing import Entry
from filmhand.journal.records import Job, SheetRecord, Source


@dataclass(frozen=True)
class Arrival:
    """A settled artwork in a hot folder, with its settled ticket file if it has one."""

    artwork: Entry
    ticket: Entry | None = None


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
    """① Make a settled file ours."""

    arrival: Arrival


@dataclass(frozen=True)
class Prepare:
    """Open, look, size and separate a job's artwork, in a child process."""

    job: Job


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


Action = RemoveSource | Claim | Prepare | GiveUp | FileAway | AnswerJob | LayOut | MakeSheet | HoldSheet | Deliver


def key_of(action: Action) -> str:
    """What an action is about, so that the same is not begun twice and a failed one can be paused."""
    match action:
        case RemoveSource(_, source):
            about = f"{source.job}/{source.role}"
        case Claim(arrival):
            about = f"{arrival.artwork.folder}/{arrival.artwork.name}"
        case Prepare(job) | GiveUp(job) | FileAway(job) | AnswerJob(job, _):
            about = job.id
        case LayOut(sheet, _) | MakeSheet(sheet) | HoldSheet(sheet) | Deliver(sheet):
            about = sheet.name
    return f"{type(action).__name__} {about}"
