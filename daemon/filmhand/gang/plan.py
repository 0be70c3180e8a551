"""A sheet in whole dots: where each copy lies, what it is read from, and the garment under it."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from filmhand import units
from filmhand.colour.model import InkModel
from filmhand.delivery.preview import Ground
from filmhand.errors import MachineError
from filmhand.gang.band import Copy
from filmhand.gang.oriented import Oriented
from filmhand.gang.sheet import Placement, Sheet
from filmhand.halftone import raster
from filmhand.halftone.choke import disc
from filmhand.halftone.screening import Screening
from filmhand.halftone.thresholds import Tile
from filmhand.rules import OutputRules, Printer

_EDGE_PX: Final = 3.0
"""Half the pixels of the artwork within which an edge goes from nothing to full; what takes longer is soft, and screened.
Smoothed drawing takes up to three pixels, cutting out by hand or by program up to six (common practice, no source)."""
_SAME_MM: Final = 0.5
"""How far a placement's box may be from what lies in it: more is a layout of something else."""


@dataclass(frozen=True, eq=False)
class Piece:
    """A design of the sheet. `separation`: the folder of its stored separation. `garment`: "#rrggbb"."""

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
        """Letters of the printer's inks, in print order."""
        return tuple(str(ink) for ink in self.target.printer.inks)


def plan_of(sheet: Sheet, pieces: Mapping[str, Piece], *, target: Target, picture_of: Callable[[Path, float], Oriented]) -> Plan:
    """The plan of a sheet. `picture_of` gives the picture in a folder, as it lies when turned by so many degrees.

    MachineError if a picture does not fit its placement, the placement the sheet, or the inks the printer.
    """
    across, down = target.printer.resolution
    width, length = _dots(sheet.film_width_mm, across), _dots(sheet.length_mm, down)
    wide: dict[int, raster.Tile] = {}  # copies of one rule share their tiles

    def widened(tile: Tile) -> raster.Tile:
        return wide.setdefault(id(tile), raster.widened(tile))

    copies, grounds = [], []
    for placement in sorted(sheet.placements, key=lambda item: (item.y_mm, item.x_mm)):
        piece = pieces[placement.job]
        picture = picture_of(piece.separation, placement.rotation_deg)
        _check(sheet, placement, picture, target.printer)
        screening = piece.screening
        wide_dots, high_dots = max(1, _dots(placement.width_mm, across)), max(1, _dots(placement.height_mm, down))
        copy = Copy(
            picture=picture,
            left=_start(placement.x_mm, across, size=wide_dots, room=width),
            top=_start(placement.y_mm, down, size=high_dots, room=length),
            width=wide_dots,
            height=high_dots,
            coverage=widened(screening.coverage),
            inks={ink: tuple(widened(tile) for tile in tiles) for ink, tiles in screening.inks.items()},
            edge=disc((_EDGE_PX * wide_dots / picture.stored.width_px, _EDGE_PX * high_dots / picture.stored.height_px)),
            choke=disc(screening.choke_px),
            island_choke=disc(screening.island_choke_px),
        )
        if copy.left < 0 or copy.top < 0 or copy.left + copy.width > width or copy.bottom > length:
            raise _misfit(sheet, placement, "lies beyond the film")
        copies.append(copy)
        grounds.append(Ground(copy.left, copy.top, copy.left + copy.width, copy.bottom, piece.garment))
    return Plan(sheet, target, width, length, tuple(copies), tuple(grounds))


def _check(sheet: Sheet, placement: Placement, picture: Oriented, printer: Printer) -> None:
    """Whether the placement's box is the upright box of what lies in it, and the printer has its inks."""
    unknown = set(picture.stored.inks) - {str(ink) for ink in printer.inks}
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
