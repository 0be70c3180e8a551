"""Preparing an artwork: from the original in the spool to a separation in the cache, or to the findings that stop it.

Runs in a child process. It writes only into the folder it is given; what it returns counts only if its attempt is current.
"""

import json
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Final

from filmhand import durable
from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.artwork.open import open_artwork
from filmhand.artwork.size import at_print_resolution, printed_size
from filmhand.colour.choose import ink_model
from filmhand.errors import MachineError
from filmhand.gang.outline import outline_of
from filmhand.intake.ticket import Ticket
from filmhand.mending.mend import cleared, strengthened
from filmhand.preflight import empty, out_of_gamut
from filmhand.preflight.finding import Finding, Report, Severity
from filmhand.preflight.inspect import inspect
from filmhand.preflight.marked import marked_picture
from filmhand.rules import Printer, Rule, RuleFile
from filmhand.separation.crop import cropped
from filmhand.separation.model import Separation
from filmhand.separation.separate import out_of_gamut_percent, separate
from filmhand.separation.table import SeparationTable, cached_table
from filmhand.words import Phrase

_VANISHED: Final = Phrase("All of the artwork has the colour of the garment ({garment}), so nothing of it would be printed.")
_OTHER_COLOURS: Final = Phrase("Choose another garment or other colours.")

OUTLINE = "outline.json"
MARKED = "marked.png"


@dataclass(frozen=True)
class PrepareTask:
    """All that preparing one artwork needs."""

    original: Path
    ticket: Ticket
    rule: RuleFile
    printer: Printer
    settled_faults: tuple[Finding, ...]
    """Found before the file was opened: in its ticket."""
    approved: bool
    """A person said yes to what would hold it."""
    base: Path
    """The folder that paths in the printer file start from."""
    cache: Path
    """Where tables and tiles are kept."""
    target: Path
    """The folder to make and fill."""


@dataclass(frozen=True)
class Prepared:
    """What became of it. Where the verdict lets it print, `target` has the separation, its outline and nothing else."""

    report: Report
    verdict: Severity
    facts: dict[str, Any]
    """For the journal: the printed size once it is known, and the mean coverage once separated."""


def prepare(task: PrepareTask) -> Prepared:
    """Open → look → size → separate. Customers' faults come back in the report; exceptions are ours."""
    durable.remove_tree(task.target)
    task.target.mkdir(parents=True)
    opened = open_artwork(task.original, ticket=task.ticket, rule=task.rule.general, printer=task.printer)
    if isinstance(opened, Finding):
        return _stopped(Report((*task.settled_faults, opened)))
    opened = cleared(opened, rule=task.rule.general)
    size = printed_size(opened, ticket=task.ticket, rule=task.rule.general)
    rule = _rule_for(task, size)
    opened = strengthened(opened, size, rule=rule)
    report = inspect(opened, size, rule=rule, printer=task.printer)
    report = Report((*task.settled_faults, *report.findings))
    if not _may_print(report, task):
        return _stopped_with_picture(report, size, artwork=opened, garment=rule.garment, folder=task.target)
    artwork = at_print_resolution(opened, size, printer=task.printer)
    table = _table(artwork, rule, task)
    report = _with_gamut(report, artwork, table, rule)
    if not _may_print(report, task):
        return _stopped_with_picture(report, size, artwork=opened, garment=rule.garment, folder=task.target)
    separation = cropped(separate(artwork, size, table=table, rule=rule, printer=task.printer))
    if separation is None:
        report = Report((*report.findings, _vanished(rule)))
        return _stopped_with_picture(report, size, artwork=opened, garment=rule.garment, folder=task.target)
    _keep(separation, task.target)
    coverage = float(separation.coverage.mean()) / 255
    return Prepared(report, Severity.NOTE, {**_size_facts(size), "garment": rule.garment, "mean_coverage": coverage})


def ensure_prepared(task: PrepareTask) -> None:
    """Make a separation again that the cache has lost. MachineError when the artwork no longer passes."""
    if task.target.is_dir():
        return
    part = task.target.with_name(f"{task.target.name}.again.part")
    made = prepare(replace(task, target=part, approved=True))
    if made.verdict >= Severity.HOLD:
        raise MachineError(
            "A prepared artwork was lost from the cache and cannot be prepared again",
            file=task.original,
            next_step="Cancel its sheet with: filmhand refuse SHOP SHEET",
        )
    part.rename(task.target)


def _rule_for(task: PrepareTask, size: PrintedSize) -> Rule:
    """The rule for this width, with the garment that the ticket names."""
    rule = task.rule.for_width(size.width_mm)
    return rule.model_copy(update={"garment": task.ticket.garment or rule.garment})


def _may_print(report: Report, task: PrepareTask) -> bool:
    return report.verdict < Severity.HOLD or (task.approved and report.verdict is Severity.HOLD)


def _stopped(report: Report, size: PrintedSize | None = None) -> Prepared:
    return Prepared(report, report.verdict, _size_facts(size))


def _stopped_with_picture(report: Report, size: PrintedSize, *, artwork: Artwork, garment: str, folder: Path) -> Prepared:
    (folder / MARKED).write_bytes(marked_picture(artwork, report, garment=garment))
    return _stopped(report, size)


def _table(artwork: Artwork, rule: Rule, task: PrepareTask) -> SeparationTable:
    model = ink_model(task.printer, base=task.base)
    return cached_table(artwork.profile, model=model, garment=rule.garment, rule=rule, cache=task.cache)


def _with_gamut(report: Report, artwork: Artwork, table: SeparationTable, rule: Rule) -> Report:
    percent = out_of_gamut_percent(artwork, table)
    return replace(report, findings=(*report.findings, *out_of_gamut.check(percent, limits=rule.preflight.out_of_gamut)))


def _vanished(rule: Rule) -> Finding:
    return Finding(empty.NAME, Severity.REJECT, _VANISHED(garment=rule.garment), _OTHER_COLOURS())


def _keep(separation: Separation, folder: Path) -> None:
    separation.save(folder)
    outline = outline_of(separation.coverage, width_mm=separation.width_mm, height_mm=separation.height_mm)
    (folder / OUTLINE).write_text(json.dumps(outline.to_json()), "utf-8")
    durable.sync_tree(folder)


def _size_facts(size: PrintedSize | None) -> dict[str, Any]:
    return {} if size is None else {"width_mm": size.width_mm, "height_mm": size.height_mm}
