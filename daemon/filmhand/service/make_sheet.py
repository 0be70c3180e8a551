"""Making a sealed sheet: compose, read back, reckon, write the ticket, sync. Runs in a child process.

It writes into a folder of its own attempt inside staging; the loop gives it its final name when the attempt is still current.
"""

import json
from dataclasses import dataclass
from pathlib import Path

from filmhand import durable
from filmhand.colour.choose import ink_model
from filmhand.delivery.readback import read_back
from filmhand.delivery.sheet_ticket import TICKET, CopyFacts, sheet_ticket
from filmhand.estimate.estimate import estimate
from filmhand.gang.compose import Piece, compose
from filmhand.gang.sheet import Sheet
from filmhand.halftone.screening import screening_for
from filmhand.rules import Printer, RuleFile
from filmhand.service.prepare import PrepareTask, ensure_prepared


@dataclass(frozen=True)
class MakeSheetTask:
    """All that making a sheet needs; `preparations` makes a separation again that the cache has lost."""

    sheet: Sheet
    facts: dict[str, CopyFacts]
    preparations: dict[str, PrepareTask]
    rule: RuleFile
    printer: Printer
    base: Path
    cache: Path
    target: Path


def make_sheet(task: MakeSheetTask) -> None:
    """Fill `target` with the sheet's files, whole and synced."""
    durable.remove_tree(task.target)
    task.target.mkdir(parents=True)
    for preparation in task.preparations.values():
        ensure_prepared(preparation)
    model = ink_model(task.printer, base=task.base)
    composed = compose(
        task.sheet,
        {job: _piece(job, task) for job in task.facts},
        printer=task.printer,
        output=task.rule.general.output,
        folder=task.target,
    )
    digests = read_back(task.target, composed)
    reckoned = estimate(
        composed.dots,
        composed.film_dots,
        length_mm=task.sheet.length_mm,
        printer=task.printer,
        passes=task.rule.general.output.passes,
    ).to_json()
    ticket = sheet_ticket(
        task.sheet, task.facts, printer=task.printer, is_nominal=model.is_nominal, estimate=reckoned, digests=digests
    )
    (task.target / TICKET).write_text(json.dumps(ticket, indent=1, ensure_ascii=False), "utf-8")
    durable.sync_tree(task.target)


def _piece(job: str, task: MakeSheetTask) -> Piece:
    folder = task.preparations[job].target
    width_mm = json.loads((folder / "separation.json").read_text("utf-8"))["width_mm"]
    screening = screening_for(task.rule.for_width(width_mm), printer=task.printer, cache=task.cache)
    return Piece(separation=folder, screening=screening, garment=task.facts[job].garment)
