"""A journal with a night in it: jobs and sheets brought through their stages by the journal's own verbs."""

from dataclasses import dataclass, field, replace
from datetime import datetime
from pathlib import Path

from filmhand.gang.sheet import Placement
from filmhand.intake.ticket import Ticket
from filmhand.journal import jobs, sheets
from filmhand.journal.jobs import New
from filmhand.journal.journal import Journal
from filmhand.journal.records import JobId, SheetRecord
from filmhand.journal.states import JobStage, SheetStage
from filmhand.notices.outbox import Notice
from filmhand.preflight.finding import Finding, Severity
from filmhand.rules import RuleFile
from filmhand.service.decide import View
from filmhand.shop import House, Shop, ShopSettings
from filmhand.words import Words
from some_records import a_job
from work.plain_task import PRINTER

RULE = RuleFile.parse('title = "t"\n[gang.close]\nat = ["22:00", "06:00"]\nafter = "45 min"', Path("rules") / "dark.toml")
GROUND = Finding("ground", Severity.HOLD, Words("It has a white ground."), Words("Send it without."))
FEW_PIXELS = Finding("ppi", Severity.REJECT, Words("It has 40 pixels an inch where 100 are needed."), Words("Send it larger."))


def house_of(**settings: object) -> House:
    """The settings of a shop with the one hot folder `dark`."""
    return House(ShopSettings(**settings), PRINTER, {"dark": RULE})  # type: ignore[arg-type]


@dataclass
class Office:
    """Keeps what is posted."""

    posted: list[Notice] = field(default_factory=list)

    def post(self, notice: Notice) -> None:
        """Keep a notice."""
        self.posted.append(notice)

    def follow(self, settings: ShopSettings) -> None:
        """Nothing to go by."""


@dataclass
class NightShift:
    """Does what the hand does, in the journal only."""

    shop: Shop
    journal: Journal

    def claim(self, name: str, at: datetime, *, copies: int = 1, order: str | None = None) -> JobId:
        """A file comes."""
        ticket = Ticket(copies=copies, order=order)
        job = a_job(f"j-{name}", at=at, copies=copies, name=name, digest=name, ticket=ticket)
        jobs.claim(self.journal, New(job, ()))
        return job.id

    def ready(self, name: str, at: datetime, *, copies: int = 1, order: str | None = None) -> JobId:
        """A file comes and waits for its sheet."""
        job = self.claim(name, at, copies=copies, order=order)
        jobs.prepared(self.journal, job, {"width_mm": 80.0, "height_mm": 60.0}, findings=(), at=at)
        return job

    def set_aside(self, name: str, at: datetime, finding: Finding) -> JobId:
        """A file comes and is held or rejected for a finding."""
        job = jobs.find(self.journal, self.claim(name, at))
        assert job is not None
        stage = JobStage.REJECTING if finding.severity is Severity.REJECT else JobStage.HOLDING
        jobs.set_aside(self.journal, replace(job, findings=(finding,)), stage, place=name, at=at)
        self.file(job.id, at)
        return job.id

    def file(self, job: JobId, at: datetime) -> None:
        """It is laid where its stage says."""
        found = jobs.find(self.journal, job)
        assert found is not None
        jobs.filed(self.journal, found, at=at)

    def print(self, at: datetime, *jobs_on_it: JobId, facts: dict[str, object]) -> str:
        """The open sheet is laid out with one copy of each, composed and handed over; its name."""
        sheet = self.seal(at, *jobs_on_it)
        sheets.staged(self.journal, sheet, facts, at=at)
        sheets.delivering(self.journal, sheet.id, boot="b", at=at)
        sheets.delivered(self.journal, sheet.id, at=at)
        for job in jobs_on_it:
            self.file(job, at)
        return sheet.name

    def seal(self, at: datetime, *jobs_on_it: JobId) -> SheetRecord:
        """The open sheet is laid out with one copy of each."""
        (sheet,) = sheets.by_stage(self.journal, SheetStage.OPEN)
        placements = [Placement(job, 1, 10, 10, 50, 50, 0) for job in jobs_on_it]
        sheets.seal(self.journal, sheet, placements, film=sheets.Film(600, 1500), rule="r", at=at)
        sealed = sheets.find(self.journal, sheet.name)
        assert sealed is not None
        return sealed

    def view(self, *, short: tuple[str, ...] = ()) -> View:
        """What the loop sees."""
        active_jobs = jobs.by_stage(self.journal, JobStage.HOLDING, JobStage.HELD, JobStage.CLAIMED, JobStage.WAITING)
        active_sheets = sheets.by_stage(self.journal, SheetStage.OPEN, SheetStage.SEALED, SheetStage.HELD)
        return View(jobs=tuple(active_jobs), sheets=tuple(active_sheets), short_of_space=short)
