"""What stops the line, and which of it is news: pure."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from filmhand.journal.night_events import Told
from filmhand.journal.records import Job, SheetRecord
from filmhand.journal.states import JobStage, SheetStage
from filmhand.notices import night_words as words
from filmhand.preflight.finding import Finding
from filmhand.service.filing import BROKE_OFF_CHECK


@dataclass(frozen=True)
class Trouble:
    """Something that a person must mend before the line goes on. Two with the same key are the same, whatever they say."""

    key: str
    title: str
    body: str


@dataclass(frozen=True)
class News:
    """What is new of the troubles, and which of those that were told are over."""

    fresh: tuple[Trouble, ...]
    over: tuple[str, ...]


def of_journal(jobs: Iterable[Job], sheets: Iterable[SheetRecord]) -> tuple[Trouble, ...]:
    """Sheets that are held, and files whose attempts are spent."""
    held = (sheet for sheet in sheets if sheet.stage is SheetStage.HELD)
    spent = ((job, _broke_off(job)) for job in jobs if job.stage in (JobStage.HOLDING, JobStage.HELD))
    return (
        *(Trouble(f"sheet {sheet.name}", *words.sheet_held(sheet.name, sheet.why)) for sheet in held),
        *(
            Trouble(f"job {job.id}", *words.attempts_spent(job.shown_name, job.folder, job.id, str(finding.message)))
            for job, finding in spent
            if finding is not None
        ),
    )


def news(told: Mapping[str, Told], standing: Iterable[Trouble]) -> News:
    """What to tell: troubles not told yet. A trouble is told once until it ended."""
    now = {trouble.key: trouble for trouble in standing}
    return News(tuple(trouble for key, trouble in now.items() if key not in told), tuple(key for key in told if key not in now))


def _broke_off(job: Job) -> Finding | None:
    return next((finding for finding in job.findings if finding.check == BROKE_OFF_CHECK), None)
