"""A job as a value, without a journal."""

from datetime import datetime

from filmhand.intake.ticket import Ticket
from filmhand.journal.records import Job, JobId
from filmhand.journal.states import JobStage


def waiting_job(at: datetime, *, name: str = "a.png", copies: int = 1) -> Job:
    """One that waits for its sheet."""
    return Job(
        id=JobId("j"), seq=1, folder="dark", name=name, digest="d", size_bytes=1, stage=JobStage.WAITING, attempt=0,
        approved=False, copies=copies, ticket=Ticket(copies=copies, order="R1"), arrived=at, since=at,
    )  # fmt: skip
