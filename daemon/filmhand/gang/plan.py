"""A sheet in whole dots: where each copy lies, what it is read from, and the garment under it."""

from collections.abc import Callable, Mapping
from concurrent.futures import Executor
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Final

from filmhand import units
from filmhand.colour.model import InkModel
from filmhand.delivery.preview import Ground
from filmhand.errors import MachineError
from filmhand.gang.band import Copy, InkScreen
from filmhand.gang.composed import CONTINUOUS
from filmhand.gang.film import Film, film_of
from filmhand.gang.oriented import Oriented
from filmhand.gang.sheet import Placement, Sheet
from filmhand.gang.stored import part_of
from filmhand.halftone import raster
from filmhand.halftone.diffusion import Diffusion
from filmhand.halftone.screening import Screening
from filmhand.rules import OutputRules, Printer

_SAME_MM: Final = 0.5
"""How far a placement's box may be from what lies in it: more is a layout of something else."""

PictureOf = Callable[[Path, float], Oriented]
"""The picture in a folder, as it lies when turned by so many degrees."""


@dataclass(frozen=True, eq=False)
class Piece:
    """A design. `separation`: the folder of its stored separation, with those of its pieces. `garment`: "#rrggbb"."""

    separation: Path
    screening: Screening
    garment: str


@dataclass(frozen=True, eq=False)
class Target:
    """What a sheet is composed for. `garment` lies in the preview where no piece does."""

    printer: Printer
    output: OutputRules
    model: InkModel
    garment: str = "#ffffff"


@dataclass(frozen=True, eq=False)
class Plan:
    """A sheet in dots; copies from the top down."""

    sheet: Sheet
    target: Target
    width: int
    length: int
    copies: tuple[Copy, ...]
    grounds: tuple[Ground, ...]

    @property
    def inks(self) -> tuple[str, ...]:
        """Letters of the printer's planes, in print order."""
        return self.target.printer.planes


def plan_of(sheet: Sheet, pieces: Mapping[str, Piece], *, target: Target, picture_of: PictureOf, pool: Executor) -> Plan:
    """The plan of a sheet, each design's film made in `pool` if it is not there yet.

    MachineError if a picture does not fit its placement, the placement the sheet, or the inks the printer.
    """
    across, down = target.printer.resolution
    width, length = _dots(sheet.film_width_mm, across), _dots(sheet.length_mm, down)
    placed = [
        _placed(sheet, placement, pieces[placement.job], target, picture_of(_folder(pieces, placement), placement.rotation_deg))
        for placement in sorted(sheet.placements, key=lambda item: (item.y_mm, item.x_mm))
    ]
    continuous = target.printer.bits == CONTINUOUS
    wanted = {one.key: one for one in placed}
    work = partial(_film, continuous=continuous)
    films = dict(zip(wanted, pool.map(work, wanted.values()), strict=True))
    wide: dict[int, raster.Tile] = {}  # copies of one rule share their tiles

    def widened(screen: InkScreen) -> InkScreen:
        if isinstance(screen, Diffusion):
            return screen
        return tuple(wide.setdefault(id(tile), raster.widened(tile)) for tile in screen)

    copies, grounds = [], []
    for one in placed:
        (left, top), (wide_dots, high_dots) = one.place, one.size
        screening = one.piece.screening
        inks = {ink: widened(screen) for ink, screen in screening.inks.items()}
        copies.append(Copy(one.picture, films[one.key], left, top, inks, screening.tones))
        grounds.append(Ground(left, top, left + wide_dots, top + high_dots, one.piece.garment))
    return Plan(sheet, target, width, length, tuple(copies), tuple(grounds))


@dataclass(frozen=True, eq=False)
class _Placed:
    """A copy before its film is made. `place`, `size`: left and top, width and height in dots."""

    piece: Piece
    picture: Oriented
    place: tuple[int, int]
    size: tuple[int, int]

    @property
    def key(self) -> tuple[object, ...]:
        """What copies with the same film have in common."""
        picture = self.picture
        return picture.stored.folder, picture.flip_x, picture.flip_y, self.size, id(self.piece.screening)


def _placed(sheet: Sheet, placement: Placement, piece: Piece, target: Target, picture: Oriented) -> _Placed:
    """A copy in dots."""
    _check(sheet, placement, picture, target.printer)
    across, down = target.printer.resolution
    width, length = _dots(sheet.film_width_mm, across), _dots(sheet.length_mm, down)
    (box_width, box_height), (width_mm, height_mm), (left_mm, top_mm) = picture.upright_mm, picture.size_mm, picture.offset_mm
    size = (
        max(1, _dots(placement.width_mm - (box_width - width_mm), across)),
        max(1, _dots(placement.height_mm - (box_height - height_mm), down)),
    )
    left = _start(placement.x_mm + left_mm, across, size=size[0], room=width)
    top = _start(placement.y_mm + top_mm, down, size=size[1], room=length)
    if left < 0 or top < 0 or left + size[0] > width or top + size[1] > length:
        raise _misfit(sheet, placement, "lies beyond the film")
    return _Placed(piece, picture, (left, top), size)


def _folder(pieces: Mapping[str, Piece], placement: Placement) -> Path:
    return part_of(pieces[placement.job].separation, placement.part)


def _film(placed: _Placed, *, continuous: bool) -> Film:
    return film_of(placed.picture, placed.size, placed.piece.screening, continuous=continuous)


def _check(sheet: Sheet, placement: Placement, picture: Oriented, printer: Printer) -> None:
    """Whether the placement's box is the upright box of what lies in it, and the printer has its inks."""
    unknown = set(picture.stored.inks) - set(printer.planes)
    if unknown:
        raise _misfit(sheet, placement, f"was prepared with ink {', '.join(sorted(unknown))}, which the printer has not")
    width_mm, height_mm = picture.upright_mm
    if abs(width_mm - placement.width_mm) > _SAME_MM or abs(height_mm - placement.height_mm) > _SAME_MM:
        raise _misfit(sheet, placement, f"is {width_mm:.1f} × {height_mm:.1f} mm and does not fit its place")


def _misfit(sheet: Sheet, placement: Placement, what: str) -> MachineError:
    return MachineError(
        f"On sheet {sheet.name}, copy {placement.copy} of job {placement.job} {what}",
        next_step="Prepare the job again and lay the sheet out anew: the cache and the layout are not of the same order.",
    )


def _start(place_mm: float, dpi: int, *, size: int, room: int) -> int:
    """A copy's first dot. Place and size are rounded apart: the one dot that this can push beyond the film is taken back."""
    start = _dots(place_mm, dpi)
    return start - 1 if start + size == room + 1 else start


def _dots(length_mm: float, dpi: int) -> int:
    return round(units.mm_to_px(length_mm, dpi))
