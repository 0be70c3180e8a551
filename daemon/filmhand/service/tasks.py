"""Turning the journal's records into tasks for child processes: pure but for the paths it names."""

from filmhand.delivery.sheet_ticket import CopyFacts
from filmhand.estimate.hand import Hand
from filmhand.gang.sheet import Placement, Sheet
from filmhand.journal.records import Job, SheetRecord
from filmhand.service.claiming import KNOWN_AT_CLAIM
from filmhand.service.lay_out import LayOutTask
from filmhand.service.make_sheet import MakeSheetTask
from filmhand.service.prepare import PrepareTask
from filmhand.shop import House, Shop


def prepare_task(shop: Shop, house: House, job: Job, *, target_name: str) -> PrepareTask:
    """Preparing a job's artwork into a folder of the cache."""
    return PrepareTask(
        original=shop.spool / job.id,
        ticket=job.ticket,
        rule=house.rules[job.folder],
        printer=house.printer,
        name=job.shown_name,
        page=job.page,
        is_part=job.parent is not None,
        known=tuple(finding for finding in job.findings if finding.check in KNOWN_AT_CLAIM),
        approved=job.approved,
        base=shop.root,
        cache=shop.cache,
        target=shop.cache / target_name,
        colours=house.tables.colours,
    )


def lay_out_task(shop: Shop, house: House, sheet: SheetRecord, unplaced: list[tuple[Job, tuple[int, ...]]]) -> LayOutTask:
    """Laying out what waits for an open sheet."""
    return LayOutTask(
        waiting=tuple((job.id, copies, shop.cache / job.id) for job, copies in unplaced if copies),
        printer=house.printer,
        rules=house.rules[sheet.folder].general.gang,
        seed=sheet.id,
    )


def make_sheet_task(
    shop: Shop, house: House, sheet: SheetRecord, *, attempt: int, placements: tuple[Placement, ...], on_it: list[Job]
) -> MakeSheetTask:
    """Making a sealed sheet."""
    return MakeSheetTask(
        sheet=Sheet(sheet.name, sheet.film_width_mm, sheet.length_mm, placements),
        facts={job.id: _facts(job) for job in on_it},
        preparations={job.id: prepare_task(shop, house, job, target_name=job.id) for job in on_it},
        rule=house.rules[sheet.folder],
        printer=house.printer,
        base=shop.root,
        cache=shop.cache,
        target=shop.staging / f"{sheet.name}.{attempt}.part",
    )


def _facts(job: Job) -> CopyFacts:
    return CopyFacts(
        ticket=job.ticket,
        shown_name=job.shown_name,
        digest=job.digest,
        garment=job.prepared["garment"],
        width_mm=job.prepared["width_mm"],
        findings=job.findings,
        hand=Hand.from_json(job.prepared["hand"]) if "hand" in job.prepared else None,
    )
