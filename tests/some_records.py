"""A job and a sheet as values, without a journal: tests say only what matters to them."""

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

from filmhand.intake.ticket import Ticket
from filmhand.journal.records import Job, JobId, SheetId, SheetRecord
from filmhand.journal.states import JobStage, SheetStage

NOW = datetime(2031, 5, 4, 22, 0, tzinfo=UTC)


def a_job(key: str = "j1", *, at: datetime = NOW, copies: int = 1, stage: JobStage = JobStage.CLAIMED, **changes: Any) -> Job:
    """An artwork for the hot folder `dark`, of that id, come at that instant; `changes` are fields of its own."""
    job = Job(
        id=JobId(key), seq=1, folder="dark", name=f"{key}.png", digest="d" * 64, size_bytes=10, stage=stage, attempt=0,
        approved=False, copies=copies, ticket=Ticket(copies=copies), arrived=at, since=at,
    )  # fmt: skip
    return replace(job, **changes)


def a_sheet(number: int = 1, *, at: datetime = NOW, stage: SheetStage = SheetStage.OPEN, **changes: Any) -> SheetRecord:
    """A sheet of the hot folder `dark`, opened at that instant; `changes` are fields of its own."""
    sheet = SheetRecord(
        id=SheetId(number), name=f"dark-{number}", folder="dark", stage=stage, attempt=0, close_asked=False, opened=at, since=at
    )
    return replace(sheet, **changes)
