"""Turning the journal's records into tasks for child processes: pure but for the paths it names."""

import math
from dataclasses import dataclass
from datetime import datetime

from filmhand.delivery.sheet_ticket import CopyFacts
from filmhand.estimate.hand import Hand
from filmhand.gang.sheet import Placement, Sheet
from filmhand.journal.records import Job, SheetRecord
from filmhand.rules import RuleFile
from filmhand.service.claiming import KNOWN_AT_CLAIM
from filmhand.shop import House, Shop
from filmhand.work.lay_out import LayOutTask
from filmhand.work.make_sheet import MakeSheetTask
from filmhand.work.prepare import PrepareTask


def prepare_task(shop: Shop, house: House, job: Job, *, rule: RuleFile, target_name: str) -> PrepareTask:
    """Preparing a job's artwork into a folder of the cache, by its own version of the rule."""
    return PrepareTask(
        original=shop.spool / job.id,
        ticket=job.ticket,
        rule=rule,
        printer=house.printers[job.printer],
        name=job.shown_name,
        page=job.page,
        is_part=job.parent is not None,
        known=tuple(finding for finding in job.findings if finding.check in KNOWN_AT_CLAIM),
        approved=job.approved,
        base=shop.printer_base(job.printer),
        cache=shop.tables,
        target=shop.cache / target_name,
        colours=house.tables.colours,
    )


def lay_out_task(shop: Shop, house: House, sheet: SheetRecord, unplaced: list[tuple[Job, tuple[int, ...]]]) -> LayOutTask:
    """Laying out what waits for an open sheet: rush orders first, then by due time, then in order of arrival."""
    return LayOutTask(
        waiting=tuple((job.id, copies, shop.cache / job.id) for job, copies in sorted(unplaced, key=_urgency) if copies),
        printer=house.printers[sheet.printer],
        rules=house.rules[sheet.folder].general.gang,
        seed=sheet.id,
        cache=shop.tables,
    )


@dataclass(frozen=True)
class Contents:
    """What lies on a sealed sheet: its placements, its jobs, each with its own version of the rule, and the sheet's."""

    placements: tuple[Placement, ...]
    jobs: tuple[tuple[Job, RuleFile], ...]
    rule: RuleFile


def make_sheet_task(shop: Shop, house: House, sheet: SheetRecord, *, contents: Contents, at: datetime) -> MakeSheetTask:
    """Making a sealed sheet. `sheet`: as its row stands once the attempt has begun."""
    return MakeSheetTask(
        sheet=Sheet(sheet.name, sheet.film_width_mm, sheet.length_mm, contents.placements),
        facts={job.id: _facts(job) for job, _ in contents.jobs},
        preparations={job.id: prepare_task(shop, house, job, rule=own, target_name=job.id) for job, own in contents.jobs},
        rule=contents.rule,
        printer=house.printers[sheet.printer],
        base=shop.printer_base(sheet.printer),
        cache=shop.tables,
        target=shop.staging / f"{sheet.name}.{sheet.attempt}.part",
        shop=house.settings.name,
        at=at,
        film=sheet.film_why,
    )


def _urgency(waiting: tuple[Job, tuple[int, ...]]) -> tuple[bool, float, int]:
    job, _ = waiting
    return not job.ticket.rush, math.inf if job.ticket.due is None else job.ticket.due.timestamp(), job.seq


def _facts(job: Job) -> CopyFacts:
    return CopyFacts(
        ticket=job.ticket,
        shown_name=job.shown_name,
        digest=job.digest,
        rule_digest=job.rule_digest,
        garment=job.prepared["garment"],
        width_mm=job.prepared["width_mm"],
        findings=job.findings,
        hand=Hand.from_json(job.prepared["hand"]) if "hand" in job.prepared else None,
    )
