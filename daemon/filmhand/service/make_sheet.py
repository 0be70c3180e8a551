"""Making a sealed sheet: compose, read back, reckon, write the ticket, sync. Runs in a child process.

It writes into a folder of its own attempt inside staging; the loop gives it its final name when the attempt is still current.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from filmhand import durable
from filmhand.colour.choose import ink_model
from filmhand.colour.printer_tone import printer_tone
from filmhand.delivery.readback import read_back
from filmhand.delivery.sheet_ticket import TICKET, CopyFacts, sheet_ticket
from filmhand.estimate.estimate import Estimate, estimate
from filmhand.estimate.hand import sheet_hand
from filmhand.gang.compose import Piece, Target, compose
from filmhand.gang.sheet import Sheet
from filmhand.halftone.screening import Screening, screening_for, spreads_on
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
    rule = task.rule.general
    target = Target(task.printer, rule.output, model, rule.garment)
    composed = compose(task.sheet, _pieces(task, printer_tone(model).curves), target=target, folder=task.target)
    digests = read_back(task.target, composed)
    laid = estimate(
        composed.dots,
        composed.film_dots,
        length_mm=task.sheet.length_mm,
        printer=task.printer,
        passes=rule.output.passes,
    )
    ticket = sheet_ticket(
        task.sheet, task.facts, printer=task.printer, is_nominal=model.is_nominal, figures=_figures(laid, task), digests=digests
    )
    (task.target / TICKET).write_text(json.dumps(ticket, indent=1, ensure_ascii=False), "utf-8")
    durable.sync_tree(task.target)


def _figures(laid: Estimate, task: MakeSheetTask) -> dict[str, Any]:
    """The ticket's `estimate` and `hand`."""
    hand = sheet_hand(laid, [task.facts[item.job].hand for item in task.sheet.placements], printer=task.printer)
    return {"estimate": laid.to_json(), "hand": None if hand is None else hand.to_json()}


def _pieces(task: MakeSheetTask, curves: Mapping[str, NDArray[np.float64]]) -> dict[str, Piece]:
    """What each job is composed from; jobs whose rules screen alike share their screens. `curves` as `PrinterTone` has them."""
    screenings: dict[Any, Screening] = {}
    pieces = {}
    for job, facts in task.facts.items():
        folder = task.preparations[job].target
        rule = task.rule.for_width(facts.width_mm).model_copy(update={"garment": facts.garment})
        key = (rule.halftone, rule.underbase, spreads_on(facts.garment))
        if key not in screenings:
            screenings[key] = screening_for(rule, printer=task.printer, cache=task.cache, curves=curves)
        pieces[job] = Piece(folder, screenings[key], facts.garment)
    return pieces
