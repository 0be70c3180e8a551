"""Filing a job where a person finds it: held/, rejects/ or done/. Pure choices first, then the moves."""

import json
from datetime import datetime
from pathlib import Path
from typing import Final

from filmhand.artwork.model import PrintedSize
from filmhand.delivery import file_away
from filmhand.delivery.note import Note
from filmhand.journal import jobs
from filmhand.journal.journal import Journal
from filmhand.journal.records import Job
from filmhand.journal.states import JobStage
from filmhand.preflight.finding import Finding, Severity
from filmhand.service.actions import Answer
from filmhand.service.prepare import MARKED
from filmhand.shop import House, Shop
from filmhand.words import Phrase

_BROKE_OFF: Final = Phrase("Work on this file broke off {times} times.")
_SAVE_ANEW: Final = Phrase("Open it in the program that made it, save it anew as PNG or PDF, and send that.")


def choose_place(shop: Shop, journal: Journal, job: Job, stage: JobStage) -> str:
    """A free name for a job under held/ or rejects/."""
    parent = (shop.held if stage is JobStage.HOLDING else shop.rejects) / job.folder
    return file_away.free_place(parent, job.shown_name, job=job.id, taken=jobs.places_taken(journal, job))


def file_job(shop: Shop, house: House, journal: Journal, job: Job, *, at: datetime) -> Path:
    """Lay a job where its stage says and commit that; returns the place. OSError: try again later."""
    if job.stage is JobStage.DELIVERED:
        place = _archive(shop, job, at)
    else:
        parent = shop.held if job.stage is JobStage.HOLDING else shop.rejects
        place = parent / job.folder / (job.place or job.id)
        picture = shop.cache / f"{job.id}.{MARKED}"
        file_away.file_folder(shop.spool / job.id, place, _note(shop, house, job, at), picture=picture)
    jobs.filed(journal, job, at=at)
    if job.stage is not JobStage.HOLDING:
        _forget(shop, job)
    return place


def take_back(shop: Shop, job: Job) -> None:
    """Take a held job's folder away once a person has answered: the spool still has the original."""
    held = shop.held / job.folder
    for folder in (held, *(held / answer for answer in Answer)):
        file_away.remove_folder(folder / str(job.place))


def drop_answered(shop: Shop, journal: Journal) -> None:
    """After a start: held folders whose job was answered, for a crash may have come between the answer and their removal."""
    for note in shop.held.glob("*/**/note.json"):
        job = jobs.find(journal, str(json.loads(note.read_bytes()).get("job")))
        if job is not None and job.stage not in (JobStage.HOLDING, JobStage.HELD):
            file_away.remove_folder(note.parent)


def attempts_spent(job: Job) -> Finding:
    """The finding on a file whose every attempt broke off."""
    broke_off, advice = _BROKE_OFF(times=job.attempt), _SAVE_ANEW()
    return Finding("work", Severity.HOLD, broke_off, advice, float(job.attempt))


def _archive(shop: Shop, job: Job, at: datetime) -> Path:
    """The name has the job's id: a second file of the same name on the same day has its own place, whatever crashed."""
    name = file_away.with_id(file_away.safe_name(job.shown_name), job.id)
    # The day of the hand-over, from the journal: a crash over midnight must not make a second place.
    place = shop.done / f"{job.since.astimezone(at.tzinfo):%Y-%m-%d}" / name
    file_away.file_original(shop.spool / job.id, place)
    return place


def _forget(shop: Shop, job: Job) -> None:
    """The spool's copies and the cache's, once the original lies elsewhere."""
    for path in (shop.spool / job.id, shop.spool / f"{job.id}.ticket", shop.cache / f"{job.id}.{MARKED}"):
        path.unlink(missing_ok=True)
    file_away.remove_folder(shop.cache / job.id)


def _note(shop: Shop, house: House, job: Job, at: datetime) -> Note:
    facts = job.prepared
    return Note(
        job=job.id,
        file=job.name,
        shop=str(shop.root),
        folder=job.folder,
        rule_title=house.rules[job.folder].general.title if job.folder in house.rules else job.folder,
        verdict=Severity.HOLD if job.stage is JobStage.HOLDING else Severity.REJECT,
        ticket=job.ticket,
        size=PrintedSize(facts["width_mm"], facts["height_mm"]) if "width_mm" in facts else None,
        findings=job.findings,
        sha256=job.digest,
        when=at,
    )
