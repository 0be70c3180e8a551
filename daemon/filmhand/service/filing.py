"""Filing a job where a person finds it: held/, rejects/ or done/. Pure choices first, then the moves."""

import json
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Final

from filmhand import durable
from filmhand.artwork.model import PrintedSize
from filmhand.delivery import file_away
from filmhand.delivery.file_away import Pictures
from filmhand.delivery.note import Note
from filmhand.intake.read_ticket import TICKET
from filmhand.journal import jobs
from filmhand.journal.journal import Journal
from filmhand.journal.records import Expected, Job
from filmhand.journal.states import JobStage
from filmhand.language import customers_language
from filmhand.preflight.finding import Finding, Report, Severity
from filmhand.service.actions import Answer
from filmhand.shop import House, Shop
from filmhand.words import Phrase
from filmhand.work.prepare import BEFORE, MARKED

BROKE_OFF_CHECK: Final = "work"
"""The check that the finding on a file whose attempts are spent names."""
_MOST_NAMED: Final = 20
_NEVER_CAME: Final = Phrase("{count} artworks of this order list never came; the file and its line: {names}.")
_SEND_THEM: Final = Phrase("Send them with a list of these lines alone; what came in time was followed.")
_BROKE_OFF: Final = Phrase("Work on this file broke off {times} times.")
_SAVE_ANEW: Final = Phrase("Open it in the program that made it, save it anew as PNG or PDF, and send that.")


def choose_place(shop: Shop, journal: Journal, job: Job, stage: JobStage) -> str:
    """A free name for a job under held/ or rejects/."""
    parent = (shop.held if stage is JobStage.HOLDING else shop.rejects) / job.folder
    return file_away.free_place(parent, job.shown_name, job=job.id, taken=jobs.places_taken(journal, job))


def file_job(shop: Shop, house: House, journal: Journal, job: Job, *, at: datetime) -> Path:
    """Lay a job where its stage says and commit that; returns the place. OSError: try again later."""
    if job.stage in (JobStage.DELIVERED, JobStage.SPENT):
        place = _archive(shop, house, job, at)
    else:
        parent = shop.held if job.stage is JobStage.HOLDING else shop.rejects
        place = parent / job.folder / (job.place or job.id)
        file_away.file_folder(shop.spool / job.id, place, _note(shop, house, job, at), pictures=_pictures(shop, job))
    jobs.filed(journal, job, at=at)
    if job.stage is not JobStage.HOLDING:
        _forget(shop, job)
    return place


def answer_places(shop: Shop, job: Job, answer: Answer) -> tuple[Path, ...]:
    """What lies in `release/` or `refuse/` of a held job: its folder, or the file out of it, unchanged."""
    answered = shop.held / job.folder / answer
    folder, file = answered / str(job.place), answered / file_away.safe_name(job.shown_name)
    return (*((folder,) if folder.is_dir() else ()), *((file,) if _is_the_original(file, job) else ()))


def take_back(shop: Shop, job: Job) -> None:
    """Take away a held folder that a person has answered, and what was moved to answer: the spool still has the original."""
    file_away.remove_folder(shop.held / job.folder / str(job.place))
    for place in (place for answer in Answer for place in answer_places(shop, job, answer)):
        if place.is_dir():
            file_away.remove_folder(place)
        else:
            place.unlink()


def _is_the_original(path: Path, job: Job) -> bool:
    """Only the very bytes that are held: another file under the name is no answer, and is never removed."""
    if path.is_symlink() or not path.is_file() or path.stat().st_size != job.size_bytes:
        return False
    return durable.sha256_of(path) == job.digest


def drop_answered(shop: Shop, journal: Journal) -> None:
    """After a start: held folders whose job was answered, for a crash may have come between the answer and their removal."""
    for note in shop.held.glob("*/**/note.json"):
        name = _job_in(note)
        job = None if name is None or file_away.BUILDING in note.parts else jobs.find(journal, name)
        if job is not None and job.stage not in (JobStage.HOLDING, JobStage.HELD):
            file_away.remove_folder(note.parent)


def _job_in(note: Path) -> str | None:
    """The job that a note names; None where it is cut short, as a crash leaves one that is being built, or not ours any more."""
    try:
        values = json.loads(note.read_bytes())
    except (OSError, ValueError):
        return None
    return str(values.get("job")) if isinstance(values, dict) else None


def end_list(shop: Shop, journal: Journal, job: Job, missing: tuple[Expected, ...], *, at: datetime) -> None:
    """An order list whose every line was followed is done with; one with faults, or whose artwork never came, goes back."""
    if not missing and Report(job.findings).verdict < Severity.HOLD:
        jobs.spent(journal, job.id, at=at)
        return
    names = ", ".join(f"{line.file} ({line.line})" for line in missing[:_MOST_NAMED])
    never_came = Finding(TICKET, Severity.REJECT, _NEVER_CAME(count=len(missing), names=names), _SEND_THEM())
    found = replace(job, findings=(*job.findings, never_came) if missing else job.findings)
    place = choose_place(shop, journal, job, JobStage.REJECTING)
    jobs.set_aside(journal, found, JobStage.REJECTING, place=place, at=at)


def attempts_spent(job: Job) -> Finding:
    """The finding on a file whose every attempt broke off."""
    broke_off, advice = _BROKE_OFF(times=job.attempt), _SAVE_ANEW()
    return Finding(BROKE_OFF_CHECK, Severity.HOLD, broke_off, advice, float(job.attempt))


def _archive(shop: Shop, house: House, job: Job, at: datetime) -> Path:
    """The name has the job's id: a second file of the same name on the same day has its own place, whatever crashed."""
    name = file_away.with_id(file_away.safe_name(job.shown_name), job.id)
    # The day of the hand-over, from the journal: a crash over midnight must not make a second place.
    place = shop.done / f"{job.since.astimezone(at.tzinfo):%Y-%m-%d}" / name
    file_away.file_original(shop.spool / job.id, place)
    if any(finding.severity >= Severity.WARN for finding in job.findings):
        file_away.file_page(place.with_name(f"{name}.note.html"), _note(shop, house, job, at), pictures=_pictures(shop, job))
    return place


def _forget(shop: Shop, job: Job) -> None:
    """The spool's copies and the cache's, once the original lies elsewhere."""
    pictures = [shop.cache / f"{job.id}.{name}" for name in (MARKED, BEFORE)]
    for path in (shop.spool / job.id, shop.spool / f"{job.id}.ticket", *pictures):
        path.unlink(missing_ok=True)
    file_away.remove_folder(shop.cache / job.id)


def keep_pictures(shop: Shop, job: Job, made: Path) -> None:
    """Put the pictures that preparing a job made where filing it finds them; those of an earlier attempt go."""
    for name in (MARKED, BEFORE):
        kept = shop.cache / f"{job.id}.{name}"
        if (made / name).exists():
            durable.sync_file(made / name)
            (made / name).replace(kept)
            durable.sync_folder(shop.cache)
        else:
            kept.unlink(missing_ok=True)


def _pictures(shop: Shop, job: Job) -> Pictures:
    """Those that there are: the cache may have lost them."""
    marked, before = (shop.cache / f"{job.id}.{name}" for name in (MARKED, BEFORE))
    return Pictures(*(path.read_bytes() if path.exists() else None for path in (marked, before)))


def _note(shop: Shop, house: House, job: Job, at: datetime) -> Note:
    facts = job.prepared
    return Note(
        job=job.id,
        file=job.name,
        shop=str(shop.root),
        folder=job.folder,
        rule_title=house.rules[job.folder].general.title if job.folder in house.rules else job.folder,
        verdict=_verdict(job),
        ticket=job.ticket,
        size=PrintedSize(facts["width_mm"], facts["height_mm"]) if "width_mm" in facts else None,
        findings=job.findings,
        sha256=job.digest,
        when=at,
        language=customers_language(job.ticket.language, shop.languages, otherwise=house.language),
        sender=house.settings.contact or house.settings.name,
    )


def _verdict(job: Job) -> Severity:
    if job.stage is JobStage.HOLDING:
        return Severity.HOLD
    return Severity.REJECT if job.stage is JobStage.REJECTING else Severity.WARN
