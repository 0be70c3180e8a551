"""How large artwork is printed, and its pixels at that size."""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from filmhand import units
from filmhand.artwork.bleed import bled
from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.artwork.resample import resampled
from filmhand.artwork.trim import LEAST_ALPHA
from filmhand.intake.ticket import Ticket
from filmhand.rules import Printer, Rule

ASSUMED_PPI: Final = 300.0
"""Where neither ticket, rule nor file says a size: common practice, no source. The job is then held (artwork/open.py)."""


@dataclass(frozen=True)
class Shape:
    """What size depends on: width over height as printed, the size at which the file is printed if nothing says another, and
    whether the file states that."""

    aspect: float
    own: PrintedSize
    is_stated: bool = True

    @classmethod
    def of(cls, artwork: Artwork) -> "Shape":
        """The shape of opened artwork; pixels need not be square."""
        across, down = artwork.ppi or (ASSUMED_PPI, ASSUMED_PPI)
        own = PrintedSize(units.px_to_mm(artwork.width_px, across), units.px_to_mm(artwork.height_px, down))
        return cls(own.width_mm / own.height_mm, own, artwork.ppi is not None)


def printed_size(artwork: Artwork, *, ticket: Ticket, rule: Rule) -> PrintedSize:
    """The printed size, in proportion: ordered by the ticket, else the rule's, else the file's own.

    Width and height together: fitted inside both. A size that was not ordered stays within the rule's greatest size, and with
    `enlarge = false` within what the file states.
    """
    return size_of(Shape.of(artwork), ticket=ticket, rule=rule)


def size_of(shape: Shape, *, ticket: Ticket, rule: Rule) -> PrintedSize:
    """The same, of a shape."""
    if ticket.width is not None or ticket.height is not None:
        return _fitted(shape.aspect, ticket.width, ticket.height)
    bounds = [shape.own]
    if rule.size.width is not None or rule.size.height is not None:
        sized = _fitted(shape.aspect, rule.size.width, rule.size.height)
        bounds = [sized, shape.own] if shape.is_stated and not rule.size.enlarge else [sized]
    if rule.size.max is not None:
        upright, lying = (_fitted(shape.aspect, *sides) for sides in (rule.size.max, rule.size.max[::-1]))
        bounds.append(max(upright, lying, key=_width))
    return min(bounds, key=_width)


def says_no_size(artwork: Artwork, *, ticket: Ticket, rule: Rule) -> bool:
    """Whether neither ticket, rule nor file says how large it is to be printed."""
    said = (ticket.width, ticket.height, rule.size.width, rule.size.height, artwork.ppi)
    return all(value is None for value in said)


def at_print_resolution(artwork: Artwork, size: PrintedSize, *, printer: Printer) -> Artwork:
    """The artwork reduced to the printer's resolution where it has more; never enlarged. Its `ppi` is then that of the print.

    Alpha that is not seen becomes none, and all but full becomes full: the ripples that resampling leaves beside an edge would
    else be printed as lone dots and holes. Colour is bled outward, so that a later enlargement makes no fringe.
    """
    resolution = max(printer.resolution)  # A copy may lie turned on the film.
    width = min(artwork.width_px, max(1, round(units.mm_to_px(size.width_mm, resolution))))
    height = min(artwork.height_px, max(1, round(units.mm_to_px(size.height_mm, resolution))))
    pixels = resampled(artwork.pixels, width, height)
    alpha = pixels[..., 3]
    settled = np.where(alpha < LEAST_ALPHA, 0, np.where(alpha > 255 - LEAST_ALPHA, 255, alpha)).astype(np.uint8)
    ppi = units.ppi_of(width, size.width_mm), units.ppi_of(height, size.height_mm)
    return replace(artwork, pixels=bled(pixels, settled), ppi=ppi)


def _width(size: PrintedSize) -> float:
    return size.width_mm


def _fitted(aspect: float, width_mm: float | None, height_mm: float | None) -> PrintedSize:
    """The largest size of this aspect within the lengths that are given."""
    if height_mm is None or (width_mm is not None and width_mm <= height_mm * aspect):
        assert width_mm is not None
        return PrintedSize(width_mm, width_mm / aspect)
    return PrintedSize(height_mm * aspect, height_mm)
