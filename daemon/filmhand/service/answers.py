"""Carrying out what a person says: release, refuse, close."""

from datetime import datetime

import structlog

from filmhand import durable
from filmhand.journal import jobs, sheets
from filmhand.journal.journal import Journal
from filmhand.journal.records import Job, SheetRecord
from filmhand.journal.states import JobStage, SheetStage
from filmhand.service import filing
from filmhand.service.actions import Answer
from filmhand.service.requests import Request, Verb
from filmhand.shop import Shop

_log = structlog.get_logger()


def carry_out(shop: Shop, journal: Journal, request: Request, *, at: datetime) -> None:
    """Do what a request asks; one that no longer applies is said and dropped."""
    if request.verb is Verb.CLOSE:
        if not sheets.ask_close(journal, request.target, at=at):
            _log.warning("no sheet is open for this hot folder", folder=request.target)
        return
    answer = Answer.RELEASE if request.verb is Verb.RELEASE else Answer.REFUSE
    job, sheet = jobs.find(journal, request.target), sheets.find(journal, request.target)
    if job is not None and job.stage is JobStage.HELD:
        answer_job(shop, journal, job, answer, at=at)
    elif sheet is not None and sheet.stage is SheetStage.HELD:
        answer_sheet(shop, journal, sheet, answer, at=at)
    else:
        _log.warning("nothing is held under this name", name=request.target)


def answer_job(shop: Shop, journal: Journal, job: Job, answer: Answer, *, at: datetime) -> None:
    """Yes: it is prepared again and what would hold it no longer does. No: it goes to rejects/."""
    if answer is Answer.RELEASE:
        jobs.released(journal, job.id, at=at)
    else:
        place = filing.choose_place(shop, journal, job, JobStage.REJECTING)
        jobs.refused(journal, job.id, place=place, at=at)
    filing.take_back(shop, job)
    _log.info("answered", job=job.id, answer=answer)


def answer_sheet(shop: Shop, journal: Journal, sheet: SheetRecord, answer: Answer, *, at: datetime) -> None:
    """Yes: go on with it. No: around the hand-over it counts as printed; elsewhere its copies wait for another sheet."""
    if answer is Answer.RELEASE:
        sheets.released(journal, sheet, at=at)
    elif sheet.held_at is SheetStage.DELIVERING:
        sheets.delivered(journal, sheet.id, at=at)
    else:
        sheets.cancelled(journal, sheet.id, at=at)
    drop_refused(shop, journal)
    _log.info("answered", sheet=sheet.name, answer=answer)


def drop_refused(shop: Shop, journal: Journal) -> None:
    """Staged sheets that will not be handed over any more: refused ones. After a start too, for a crash may have come between."""
    for path in shop.staging.iterdir():
        sheet = sheets.find(journal, path.name)
        if sheet is not None and sheet.stage in (SheetStage.DELIVERED, SheetStage.CANCELLED):
            durable.remove_tree(path)
