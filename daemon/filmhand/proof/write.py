"""Writing a sheet's proof: every view of the whole, each design dot for dot, and the page that shows them."""

import re
from collections.abc import Iterator
from contextlib import ExitStack
from pathlib import Path
from typing import Final

import numpy as np

from filmhand import units
from filmhand.colour.model import InkModel
from filmhand.delivery.png import PngWriter
from filmhand.proof.delivered import Box, DeliveredSheet
from filmhand.proof.facts import Placed
from filmhand.proof.look import look
from filmhand.proof.page import Design, page_of
from filmhand.proof.picture import Scale
from filmhand.proof.sweep import means_in_bands, picture_in_bands
from filmhand.proof.telling import Telling, most_telling, telling_of
from filmhand.proof.view import GARMENT, is_flipped, views

PAGE: Final = "index.html"
REGION: Final = "region.png"
_WINDOW_MM: Final = 8.0
_MAGNIFIED: Final = 8


def write_proof(sheet: DeliveredSheet, out: Path, *, model: InkModel) -> None:
    """Write the pictures and the page into an existing folder. MachineError where a file of the sheet is damaged."""
    scale = Scale.of_whole(sheet.width, sheet.length, resolution=sheet.resolution)
    telling = _write_views(sheet, out, scale=scale, model=model)
    designs = [
        _write_dots(sheet, item, box, out=out, model=model)
        for item, box in zip(_first_copies(sheet), _windows(sheet, telling, scale), strict=True)
    ]
    (out / PAGE).write_text(page_of(sheet.facts, views(sheet.facts.inks), designs), "utf-8")


def write_region(sheet: DeliveredSheet, box: Box, path: Path, *, view: str, scale: Scale, model: InkModel) -> tuple[int, int]:
    """Write the picture of a part of the sheet, in dots as the garment view shows them; its pixels across and down."""
    mirrored = sheet.facts.mirrored
    same_way = is_flipped(view, mirrored=mirrored) == is_flipped(GARMENT, mirrored=mirrored)
    shown = box if same_way else sheet.flipped(box)
    size = scale.size(box.width, box.height)
    with PngWriter(path, width=size[0], height=size[1], resolution=scale.ppi(sheet.resolution)) as png:
        for rows in picture_in_bands(sheet, shown, view, scale=scale, model=model):
            png.append(rows)
    return size


def _write_views(sheet: DeliveredSheet, out: Path, *, scale: Scale, model: InkModel) -> Telling:
    """Every view of the whole sheet in one pass over it; and where there is most to see, as the files lie."""
    width, height = scale.size(sheet.width, sheet.length)
    told = []
    with ExitStack() as stack:
        pngs = {
            view: stack.enter_context(
                PngWriter(out / f"{view}.png", width=width, height=height, resolution=scale.ppi(sheet.resolution))
            )
            for view in views(sheet.facts.inks)
        }
        for means in means_in_bands(sheet, sheet.frame, scale=scale, is_flipped=False):
            told.append(telling_of(means))
            for view, png in pngs.items():
                rows = look(means, view, model=model)
                png.append(np.ascontiguousarray(rows[:, ::-1] if is_flipped(view, mirrored=sheet.facts.mirrored) else rows))
    return Telling(*(np.concatenate(one) for one in zip(*told, strict=True)))


def _first_copies(sheet: DeliveredSheet) -> list[Placed]:
    """The first copy of each design."""
    first: dict[str, Placed] = {}
    for item in sheet.facts.placements:
        if item.job not in first or item.copy_number < first[item.job].copy_number:
            first[item.job] = item
    return list(first.values())


def _windows(sheet: DeliveredSheet, telling: Telling, scale: Scale) -> Iterator[Box]:
    """Of each design's first copy the window with most to see, in dots as the garment view shows them."""
    width, height = (max(1, round(units.mm_to_px(_WINDOW_MM, dpi))) for dpi in sheet.resolution)
    across, down = scale.block
    for item in _first_copies(sheet):
        copy = sheet.box_of(item)
        rows = slice(copy.top // down, -(-(copy.top + copy.height) // down))
        columns = slice(copy.left // across, -(-(copy.left + copy.width) // across))
        here = Telling(*(one[rows, columns] for one in telling))
        left, top = most_telling(here, (width // across, height // down))
        box = Box((columns.start + left) * across, (rows.start + top) * down, width, height)
        yield sheet.flipped(box) if is_flipped(GARMENT, mirrored=sheet.facts.mirrored) else box


def _write_dots(sheet: DeliveredSheet, item: Placed, box: Box, *, out: Path, model: InkModel) -> Design:
    """Both pictures of a design's dots."""
    name = re.sub(r"[^\w.-]", "_", item.job)
    files = f"{name}-dots.png", f"{name}-dots-x{_MAGNIFIED}.png"
    for file, times in zip(files, (1, _MAGNIFIED), strict=True):
        write_region(sheet, box, out / file, view=GARMENT, scale=Scale(magnified=times), model=model)
    across, down = sheet.resolution
    return Design(
        first=item,
        on_sheet=sum(other.job == item.job for other in sheet.facts.placements),
        dots=files[0],
        magnified=files[1],
        left_mm=units.px_to_mm(box.left, across),
        top_mm=units.px_to_mm(box.top, down),
        width_mm=_WINDOW_MM,
    )
