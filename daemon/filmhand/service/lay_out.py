"""Laying waiting copies out on a sheet. Runs in a child process, for nesting may take its time and its memory."""

import json
from dataclasses import dataclass
from pathlib import Path

from filmhand.gang.fill import Filled, fill_sheet
from filmhand.gang.nest import Item
from filmhand.gang.outline import Outline
from filmhand.rules import GangRules, Printer
from filmhand.service.prepare import OUTLINE


@dataclass(frozen=True)
class LayOutTask:
    """All that a layout needs: (job, its waiting copy numbers, the folder of its separation), oldest first."""

    waiting: tuple[tuple[str, tuple[int, ...], Path], ...]
    printer: Printer
    rules: GangRules
    seed: int


def lay_out(task: LayOutTask) -> Filled:
    """As many of the waiting copies as one sheet holds, oldest first, and where they lie."""
    items = [
        Item(job=job, copy=copy, outline=outline)
        for job, copies, folder in task.waiting
        for outline in (outline_for(folder, task.printer),)
        for copy in copies
    ]
    return fill_sheet(items, printer=task.printer, rules=task.rules, seed=task.seed)


def outline_for(folder: Path, printer: Printer) -> Outline:
    """The outline of a prepared artwork as it lies on the film."""
    outline = Outline.from_json(json.loads((folder / OUTLINE).read_text("utf-8")))
    return outline.mirrored() if printer.mirror else outline
