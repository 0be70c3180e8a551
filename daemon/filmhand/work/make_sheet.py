"""Making a sealed sheet: compose, read back, cut paths, reckon, write the ticket and the operator's sheet, sync.

Runs in a child process. It writes into a folder of its own attempt inside staging; the loop gives it its final name when the
attempt is still current.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from filmhand import durable
from filmhand.colour.choose import ink_model
from filmhand.colour.printer_tone import printer_tone
from filmhand.cut.write import cut_files
from filmhand.delivery.operator.write import write_operator_sheet
from filmhand.delivery.readback import read_back
from filmhand.delivery.sheet_ticket import TICKET, CopyFacts, Made, sheet_ticket
from filmhand.estimate.estimate import passes_of
from filmhand.gang.compose import Piece, Target, compose
from filmhand.gang.films import on_film
from filmhand.gang.sheet import Sheet
from filmhand.gang.stored import part_of
from filmhand.halftone.screening import Screening, screening_for, spreads_on
from filmhand.marks.mark import Mark
from filmhand.marks.sheet_marks import LabelFacts, marks_for
from filmhand.rules import Printer, Rule, RuleFile
from filmhand.work.prepare import PrepareTask, ensure_prepared
from filmhand.work.sheet_figures import sheet_figures


@dataclass(frozen=True)
class MakeSheetTask:
    """All that making a sheet needs; `preparations` makes a separation again that the cache has lost."""

    sheet: Sheet
    facts: dict[str, CopyFacts]
    preparations: dict[str, PrepareTask]
    rule: RuleFile
    """The sheet's own; each job is screened by the one in its preparation."""
    printer: Printer
    base: Path
    cache: Path
    target: Path
    shop: str
    """What the shop is called."""
    at: datetime
    """When the sheet is made, as it will say."""
    film: str = ""
    """Why it lies on this film."""


def make_sheet(task: MakeSheetTask) -> None:
    """Fill `target` with the sheet's files, whole and synced."""
    durable.empty_folder(task.target)
    for preparation in task.preparations.values():
        ensure_prepared(preparation)
    rule, printer = task.rule.general, on_film(task.printer, task.sheet.film_width_mm)
    model = ink_model(printer, base=task.base)
    pieces, marks = _pieces(task, printer_tone(model).curves), _marks(task, rule, printer)
    target = Target(printer, rule.output, model, rule.garment)
    composed = compose(task.sheet, pieces, target=target, folder=task.target, marks=marks)
    digests = read_back(task.target, composed) | _cut(task, rule, printer)
    figures = sheet_figures(task.sheet, task.facts, composed, printer=printer, rule=rule, folders=_folders(task))
    made = Made(rule.title, task.at, model.is_nominal, passes_of(printer, rule.output.passes), task.film)
    ticket = sheet_ticket(task.sheet, task.facts, printer=printer, made=made, figures=figures, digests=digests)
    (task.target / TICKET).write_text(json.dumps(ticket, indent=1, ensure_ascii=False), "utf-8")
    write_operator_sheet(task.target, ticket, press=rule.press, title=rule.title, shop=task.shop, at=task.at)
    durable.sync_tree(task.target)


def _folders(task: MakeSheetTask) -> dict[tuple[str, int], Path]:
    """Where the separation of each job, or of its piece, is kept."""
    kept = {job: preparation.target for job, preparation in task.preparations.items()}
    return {(item.job, item.part): part_of(kept[item.job], item.part) for item in task.sheet.placements}


def _pieces(task: MakeSheetTask, curves: Mapping[str, NDArray[np.float64]]) -> dict[str, Piece]:
    """What each job is composed from; jobs whose rules screen alike share their screens. `curves` as `PrinterTone` has them."""
    screenings: dict[Any, Screening] = {}
    pieces = {}
    for job, facts in task.facts.items():
        folder = task.preparations[job].target
        rule = task.preparations[job].rule.for_width(facts.width_mm).model_copy(update={"garment": facts.garment})
        key = (rule.halftone, rule.underbase, spreads_on(facts.garment))
        if key not in screenings:
            screenings[key] = screening_for(rule, printer=task.printer, cache=task.cache, curves=curves)
        pieces[job] = Piece(folder, screenings[key], facts.garment)
    return pieces


def _marks(task: MakeSheetTask, rule: Rule, printer: Printer) -> tuple[Mark, ...]:
    """What is printed beside the copies."""
    parts: dict[str, int] = {}
    for item in task.sheet.placements:
        parts[item.job] = max(parts.get(item.job, 0), item.part)
    labels = {
        (item.job, item.copy): LabelFacts(_called(task.facts[item.job]), task.facts[item.job].ticket.copies or 1, parts[item.job])
        for item in task.sheet.placements
    }
    made = f"{task.at:%Y-%m-%d %H:%M}"
    return marks_for(task.sheet, labels, printer=printer, rules=rule.gang, title=rule.title, at=made)


def _called(facts: CopyFacts) -> str:
    """What a person knows a copy by: its order, else its file."""
    return facts.ticket.order or facts.shown_name


def _cut(task: MakeSheetTask, rule: Rule, printer: Printer) -> dict[str, str]:
    """Write the cut paths that the rule asks for; their digests by name."""
    called = {job: _called(facts) for job, facts in task.facts.items()}
    names = cut_files(task.target, task.sheet, _folders(task), printer=printer, rules=rule.gang.cut, orders=called)
    return {name: durable.sha256_of(task.target / name) for name in names}
