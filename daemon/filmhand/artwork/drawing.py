"""Drawings (PDF, SVG) turned into pixels: only the motif, as fine as its print needs and no finer."""

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand import units
from filmhand.artwork.background import cleared_of_ground
from filmhand.artwork.model import Artwork, Kind, PrintedSize
from filmhand.artwork.size import Shape, size_of
from filmhand.artwork.trim import seen_box
from filmhand.intake.ticket import Ticket
from filmhand.preflight.finding import Finding, Severity
from filmhand.rules import Printer, Rule
from filmhand.words import Phrase

DRAWN: Final = "drawn"

DRAWN_PPI: Final = 360.0
"""Fine enough that a drawing's edges, enlarged to the printer's dots, look sharp: common practice, no source."""

MOST_DRAWN: Final = 120_000_000
"""Most pixels drawn (480 MB): larger prints are drawn a little coarser."""

_COARSE_PX: Final = 1000
_SPARE: Final = 2 / _COARSE_PX
"""How much around the motif is drawn too, for its edges are found to a coarse pixel or two; trimming takes it off again."""

_ROUNDING: Final = 1e-6
"""Pixels: sides that are whole numbers of them come out so only to so much."""

_COARSER: Final = Phrase(
    "The print is so large that the drawing was drawn with {ppi:.0f} pixels an inch instead of {wanted:.0f}."
)


@dataclass(frozen=True)
class Area:
    """A part of a drawing in its own unit, from its upper left corner."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        """From left to right."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """From top to bottom."""
        return self.bottom - self.top

    def grown(self, share: float, within: "Area") -> "Area":
        """The area and a share of its longer side around it, within another."""
        by = share * max(self.width, self.height)
        return Area(
            max(within.left, self.left - by),
            max(within.top, self.top - by),
            min(within.right, self.right + by),
            min(within.bottom, self.bottom + by),
        )

    def on_grid(self, scale: float, within: "Area") -> "Area":
        """The area, its sides moved outwards to whole pixels, `scale` in a unit from the drawing's corner, within another.

        So that what a drawing aligns with its own corner is drawn with sharp edges.
        """
        left, top = (math.floor(side * scale + _ROUNDING) / scale for side in (self.left, self.top))
        right, bottom = (math.ceil(side * scale - _ROUNDING) / scale for side in (self.right, self.bottom))
        return Area(left, top, min(right, within.right), min(bottom, within.bottom))


Draw = Callable[[Area, float], NDArray[np.uint8]]
"""Draws an area with so many pixels a unit: h×w×4 uint8 RGBA, straight alpha, on nothing.

Its edges are those of the outer pixels, so that it may be drawn a trace wider or narrower, for whole pixels."""


@dataclass(frozen=True)
class Drawn:
    """`pixels`: as `Artwork.pixels`. `ppi`: of the drawing at its own size. `findings`: that it was drawn coarser than wanted."""

    pixels: NDArray[np.uint8]
    ppi: float
    findings: tuple[Finding, ...]


@dataclass(frozen=True)
class Page:
    """A drawing to be turned into pixels: the whole of it, how long its unit is, and how it is drawn."""

    whole: Area
    unit_mm: float
    draw: Draw
    kind: Kind


def drawn(page: Page, *, ticket: Ticket, rule: Rule, printer: Printer) -> Drawn:
    """A drawing at the fineness of its print; only the motif where the rule trims."""
    area = _motif(page, rule) if rule.size.trim else page.whole
    stated = PrintedSize(area.width * page.unit_mm, area.height * page.unit_mm)
    size = size_of(Shape(area.width / area.height, stated), ticket=ticket, rule=rule)
    wanted = min(DRAWN_PPI, max(printer.resolution))
    square_inches = size.width_mm * size.height_mm / units.MM_PER_INCH**2
    printed = min(wanted, (MOST_DRAWN / square_inches) ** 0.5)
    ppi = printed * size.width_mm / stated.width_mm
    scale = units.mm_to_px(page.unit_mm, ppi)
    pixels = page.draw(area.grown(_SPARE, page.whole).on_grid(scale, page.whole), scale)
    message = _COARSER(ppi=printed, wanted=wanted)
    findings = (Finding(DRAWN, Severity.NOTE, message, None, printed, wanted, "ppi"),) if printed < wanted else ()
    return Drawn(pixels, ppi, findings)


def _motif(page: Page, rule: Rule) -> Area:
    """The box around what is drawn: found coarsely on the whole page, then finely within that."""
    area = page.whole
    for _ in range(2):
        looked_at = area.grown(_SPARE, page.whole)
        scale = _COARSE_PX / max(looked_at.width, looked_at.height)
        drawing = Artwork(page.draw(looked_at, scale), None, None, page.kind)
        box = seen_box(cleared_of_ground(drawing, rule=rule).pixels)
        if box is None:
            return area
        across, down = drawing.width_px / looked_at.width, drawing.height_px / looked_at.height
        left, top = looked_at.left, looked_at.top
        area = Area(left + box.left / across, top + box.top / down, left + box.right / across, top + box.bottom / down)
    return area
