"""Composing a chart's sheet: its blocks drawn, packed on the film, and composed as copies of orders are."""

from dataclasses import dataclass
from pathlib import Path
from typing import Final

from filmhand.colour.chart.draw import draw
from filmhand.colour.chart.model import Block, Chart
from filmhand.colour.chart.shelves import shelve
from filmhand.colour.model import InkModel
from filmhand.delivery.readback import read_back
from filmhand.gang.compose import Composed, Piece, Target, compose
from filmhand.gang.sheet import Placement, Sheet
from filmhand.halftone.screening import Screening, screening_for
from filmhand.rules import Printer, Rule, ScreenKind
from filmhand.separation.model import Separation

_BARE: Final = "#c9ced3"
"""What the preview shows where there is no block, so that their edges are seen."""


@dataclass(frozen=True, eq=False)
class Press:
    """What charts are printed with. `model` colours the preview; `cache` keeps the blue-noise tile."""

    printer: Printer
    rule: Rule
    model: InkModel
    cache: Path


def write_sheet(chart: Chart, press: Press, *, folder: Path, scratch: Path) -> Composed:
    """Write a chart's TIFFs and preview into an existing folder, and read them back. `scratch` is used up and left.

    SettingsError where a block is wider than the film's printable part.
    """
    folders = [scratch / f"{chart.kind} {number}" for number in range(len(chart.blocks))]
    sizes = [_store(block, press.printer, place) for block, place in zip(chart.blocks, folders, strict=True)]
    sheet = sheet_of(chart, sizes, press)
    pieces = {
        str(number): Piece(place, _screening(block, press), block.garment)
        for number, (block, place) in enumerate(zip(chart.blocks, folders, strict=True))
    }
    target = Target(press.printer, press.rule.output, press.model, garment=_BARE)
    composed = compose(sheet, pieces, target=target, folder=folder)
    read_back(folder, composed)
    return composed


def sheet_of(chart: Chart, sizes_mm: list[tuple[float, float]], press: Press) -> Sheet:
    """Where the blocks lie, right to left on mirrored film: job k is the k-th block, of the k-th width and height."""
    printer = press.printer
    shelved = shelve(sizes_mm, room_mm=printer.printable_width, gap_mm=press.rule.gang.gap)
    placements = []
    for number, ((x, y), (width, height)) in enumerate(zip(shelved.places, sizes_mm, strict=True)):
        left = printer.printable_width - x - width if printer.mirror else x
        placements.append(Placement(str(number), 1, printer.margin + left, printer.margin + y, width, height, 0.0))
    return Sheet(chart.kind.value, printer.film_width, shelved.length_mm + 2 * printer.margin, tuple(placements))


def _store(block: Block, printer: Printer, folder: Path) -> tuple[float, float]:
    """Draw a block into a folder of its own; its width and height in mm."""
    folder.mkdir(parents=True)
    inks = tuple(str(ink) for ink in printer.inks)
    planes, coverage, size_mm = draw(block, inks, resolution=printer.resolution)
    Separation(inks, planes, coverage, *size_mm).save(folder)
    return size_mm


def _screening(block: Block, press: Press) -> Screening:
    """The rule's screens, but for what a block does otherwise. Least dots are what charts find out, so there are none."""
    halftone, underbase = press.rule.halftone, press.rule.underbase
    halftone = halftone.model_copy(update={"least_dot": 0.0, "least_hole": 0.0})
    if block.choke_mm is not None:
        chokes = {"choke": block.choke_mm, "island_choke": min(block.choke_mm, underbase.island_choke)}
        underbase = underbase.model_copy(update=chokes)
    if block.lpi is not None:
        coverage = halftone.coverage.model_copy(update={"screen": ScreenKind.AM, "lpi": block.lpi})
        halftone = halftone.model_copy(update={"coverage": coverage})
    rule = press.rule.model_copy(update={"halftone": halftone, "underbase": underbase})
    return screening_for(rule, printer=press.printer, cache=press.cache)
