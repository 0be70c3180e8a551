"""Writing the cut paths of a sheet beside its TIFFs, in the forms that the rule asks for."""

import os
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

from filmhand.cut.contour import Ring, rings_around
from filmhand.cut.dxf import dxf_of
from filmhand.cut.film_edge import dots_of, film_bands
from filmhand.cut.joined import joined
from filmhand.cut.paths import CutPath, Key, crossing, crossings, paths_on_sheet
from filmhand.cut.pdf import pdf_of
from filmhand.cut.svg import svg_of
from filmhand.errors import MachineError
from filmhand.gang.sheet import Sheet
from filmhand.gang.stored import open_stored
from filmhand.gang_rules import CutRules
from filmhand.printer import Printer
from filmhand.rule_values import CutFile


@dataclass(frozen=True, eq=False)
class _Design:
    """`size_mm`: width and height of the upright design; `rings`: its cut path in mm of that box."""

    size_mm: tuple[float, float]
    rings: tuple[Ring, ...]


def cut_files(
    folder: Path,
    sheet: Sheet,
    coverages: Mapping[Key, Path],
    *,
    printer: Printer,
    rules: CutRules,
    orders: Mapping[str, str] | None = None,
) -> tuple[str, ...]:
    """Write the cut paths of every copy into a sheet's folder; the names of the files, in the rule's order.

    `coverages`: by job and piece, the folder of the stored separation. `orders`: by job, what to call it in the SVG's titles.
    MachineError if a separation cannot be read, or if paths cross.
    """
    if not rules.files:
        return ()
    keys = sorted({(place.job, place.part) for place in sheet.placements})
    with ThreadPoolExecutor(os.cpu_count() or 1, "cut") as pool:
        work = partial(_design, resolution=printer.resolution, offset_mm=rules.offset)
        designs = dict(zip(keys, pool.map(work, [coverages[key] for key in keys]), strict=True))
    rings = {
        key: joined(design.rings, offset_mm=rules.offset) if rules.together else design.rings for key, design in designs.items()
    }
    sizes = {key: design.size_mm for key, design in designs.items()}
    paths = paths_on_sheet(sheet, rings, sizes=sizes, printer=printer)
    for one in {(path.job, path.part) for pair in crossing(paths) for path in pair}:
        rings[one] = designs[one].rings  # another copy lies where its bridges would: better in pieces than cut through
    paths = paths_on_sheet(sheet, rings, sizes=sizes, printer=printer)
    faults = crossings(paths)
    if faults:
        raise MachineError(
            "; ".join(faults),
            file=sheet.name,
            next_step="Widen gang.gap or lessen gang.cut.offset in the rule: copies lie too close.",
        )
    forms = tuple(dict.fromkeys(rules.files))
    for form in forms:
        (folder / _name(sheet, form)).write_bytes(_drawn(form, paths, sheet=sheet, orders=orders or {}))
    return tuple(_name(sheet, form) for form in forms)


def _name(sheet: Sheet, form: CutFile) -> str:
    return f"{sheet.name}_cut.{form.value}"


def _design(folder: Path, *, resolution: tuple[int, int], offset_mm: float) -> _Design:
    stored = open_stored(folder)
    dots = dots_of(stored, resolution)
    return _Design((stored.width_mm, stored.height_mm), rings_around(film_bands(stored, dots), dots, offset_mm=offset_mm))


def _drawn(form: CutFile, paths: tuple[CutPath, ...], *, sheet: Sheet, orders: Mapping[str, str]) -> bytes:
    match form:
        case CutFile.SVG:
            return svg_of(paths, sheet=sheet, orders=orders)
        case CutFile.PDF:
            return pdf_of(paths, sheet=sheet)
        case CutFile.DXF:
            return dxf_of(paths, sheet=sheet)
