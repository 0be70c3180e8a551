"""A delivered sheet, opened for looking: windows of its dots, from anywhere on it, with a small memory of strips."""

from collections.abc import Iterable
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Final, Self

import numpy as np
from numpy.typing import NDArray

from filmhand import units
from filmhand.colour.srgb import xyz_of_hex
from filmhand.errors import MachineError, SettingsError
from filmhand.halftone.screening import THREE_DROPS, drop_sizes
from filmhand.proof.dots import Dots, Reals
from filmhand.proof.facts import Placed, SheetFacts, read_facts
from filmhand.proof.plane_file import TAKE_ANOTHER, PlaneFile
from filmhand.rules import Printer, is_white

_BETWEEN: Final = "#dfe2e5"
"""What lies between copies that are for several garments."""


@dataclass(frozen=True)
class Box:
    """Dots of a sheet, as it is looked at: from its left and top; a part may lie beyond it, where nothing is printed."""

    left: int
    top: int
    width: int
    height: int

    def grown(self, across: int, down: int) -> "Box":
        """With so many more dots on either side."""
        return Box(self.left - across, self.top - down, self.width + 2 * across, self.height + 2 * down)

    def rows(self, first: int, last: int) -> "Box":
        """Its own rows `first` to `last`, not included."""
        return Box(self.left, self.top + first, self.width, last - first)


class DeliveredSheet:
    """An open sheet. Windows may be asked for from any thread."""

    def __init__(self, folder: Path, *, printer: Printer) -> None:
        """NotFoundError, MachineError where a file is missing or damaged; SettingsError where the printer is another's."""
        self.folder, self.facts = folder, read_facts(folder)
        _same_printer(self.facts, printer)
        self.resolution = self.facts.resolution
        self._shares = {ink: _shares(self.facts.bits, printer, ink) for ink in self.facts.inks}
        garments = list(dict.fromkeys(item.garment for item in self.facts.placements))
        colours = garments if len(garments) == 1 else [_BETWEEN, *garments]
        self._garments = np.stack([xyz_of_hex(colour) for colour in colours])
        self._on = [(self.box_of(item), colours.index(item.garment)) for item in _from_the_top(self.facts.placements)]
        with ExitStack() as stack:
            self._planes = self._opened(stack)
            self._files = stack.pop_all()
        self.width, self.length = self._planes[self.facts.inks[0]][0].width, self._planes[self.facts.inks[0]][0].length

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None) -> None:
        self._files.close()

    @property
    def frame(self) -> Box:
        """The whole sheet."""
        return Box(0, 0, self.width, self.length)

    def box_of(self, item: Placed) -> Box:
        """The dots of a copy, as they lie in the files."""
        across, down = self.resolution
        left, top = round(units.mm_to_px(item.x_mm, across)), round(units.mm_to_px(item.y_mm, down))
        return Box(left, top, round(units.mm_to_px(item.width_mm, across)), round(units.mm_to_px(item.height_mm, down)))

    def flipped(self, box: Box) -> Box:
        """The same dots seen from the other side."""
        return Box(self.width - box.left - box.width, box.top, box.width, box.height)

    def dots(self, box: Box, *, is_flipped: bool) -> Dots:
        """A window as it is looked at: left to right as the files are, or the other way round."""
        inside = self.flipped(box) if is_flipped else box
        planes = {ink: self._plane(ink, inside) for ink in self.facts.inks}
        lies_on = self._lies_on(inside)
        if is_flipped:
            planes = {ink: np.ascontiguousarray(plane[:, ::-1]) for ink, plane in planes.items()}
            lies_on = np.ascontiguousarray(lies_on[:, ::-1])
        return Dots(self.facts.bits, planes, self._shares, self._garments, lies_on)

    def _opened(self, stack: ExitStack) -> dict[str, tuple[PlaneFile, int]]:
        """By letter: its file, and which plane of it it is. One file holds all where there is one of the sheet's own name."""
        facts, planes = self.facts, {}
        whole = self.folder / f"{facts.sheet}.tif"
        together = PlaneFile(whole) if whole.exists() else None
        for place, ink in enumerate(facts.inks):
            file = together or PlaneFile(self.folder / f"{facts.sheet}_{ink}.tif")
            stack.callback(file.close) if together is None or place == 0 else None
            planes[ink] = file, place if together else 0
            _as_said(file, facts, planes=len(facts.inks) if together else 1)
        return planes

    def _plane(self, ink: str, box: Box) -> NDArray[np.uint8]:
        """Levels of a window, 0 beyond the sheet."""
        file, plane = self._planes[ink]
        found = np.zeros((box.height, box.width), np.uint8)
        rows, columns = _inside(box.top, box.height, self.length), _inside(box.left, box.width, self.width)
        if rows and columns:
            levels = file.rows(plane, rows.start, rows.stop)[:, columns.start : columns.stop]
            found[_shifted(rows, box.top), _shifted(columns, box.left)] = levels
        return found

    def _lies_on(self, box: Box) -> NDArray[np.uint8]:
        """Which garment lies under each dot; where boxes of copies overlap, that of the lower one."""
        found = np.zeros((box.height, box.width), np.uint8)
        for copy, garment in self._on:
            rows = _inside(copy.top - box.top, copy.height, box.height)
            columns = _inside(copy.left - box.left, copy.width, box.width)
            found[rows.start : rows.stop, columns.start : columns.stop] = garment
        return found


def _inside(first: int, count: int, room: int) -> range:
    """Of `count` places from a first one on, those from 0 to `room`."""
    return range(max(0, first), max(0, min(first + count, room)))


def _shifted(places: range, by: int) -> slice:
    return slice(places.start - by, places.stop - by)


def _from_the_top(placements: Iterable[Placed]) -> list[Placed]:
    return sorted(placements, key=lambda item: (item.y_mm, item.x_mm))


def _shares(bits: int, printer: Printer, ink: str) -> Reals:
    """The share of full ink that each value of a sample is."""
    drops = drop_sizes(printer, ink) if bits == THREE_DROPS else None
    return np.array([0.0, *drops] if drops else np.linspace(0, 1, 1 << bits), np.float32)


def _same_printer(facts: SheetFacts, printer: Printer) -> None:
    """SettingsError unless the sheet can have been made for the printer."""
    colours = tuple(ink for ink in facts.inks if not is_white(ink))
    if colours != tuple(str(ink) for ink in printer.colours) or facts.bits != printer.bits:
        raise SettingsError(
            f"This sheet is of the inks {', '.join(facts.inks)} at {facts.bits} bits, the shop's printer has "
            f"{', '.join(printer.planes)} at {printer.bits}",
            file=facts.sheet,
            next_step="Name the shop that made it with --shop, its printer file as it was then",
        )


def _as_said(file: PlaneFile, facts: SheetFacts, *, planes: int) -> None:
    """MachineError unless a file is what the ticket says."""
    across, down = facts.resolution
    size = round(units.mm_to_px(facts.film_width_mm, across)), round(units.mm_to_px(facts.length_mm, down))
    if (file.width, file.length, file.bits, file.planes) != (*size, facts.bits, planes):
        raise MachineError(
            f"This file is {file.width} × {file.length} dots of {file.planes} planes at {file.bits} bits, "
            f"the sheet's ticket says {size[0]} × {size[1]}, {planes} and {facts.bits}",
            file=file.path,
            next_step=TAKE_ANOTHER,
        )
