"""Artwork through a separation table to the printer's planes."""

from typing import Final

import numpy as np

from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.rules import WHITE, Printer, Rule
from filmhand.separation.exact import ExactInks, lay
from filmhand.separation.lookup import Planes, separate_pixels, share_above
from filmhand.separation.model import Separation
from filmhand.separation.table import SeparationTable

OUT_OF_GAMUT: Final = 5.0
"""ΔE00 from the nearest printable colour beyond which a colour counts as out of gamut (common practice, no source)."""


def separate(
    artwork: Artwork, size: PrintedSize, *, table: SeparationTable, rule: Rule, printer: Printer, exact: ExactInks | None = None
) -> Separation:
    """The artwork's separation at its own resolution, its planes in the printer's order of inks, white last.

    White is the rule's underbase density wherever there is coverage. Inks that the table does not know stay empty. Nothing but
    the planes themselves is allocated. Pixels of `exact` values are film with just their inks, whatever the table says.
    """
    height, width = artwork.pixels.shape[:2]
    planes = np.zeros((len(printer.inks), height, width), np.uint8)
    coverage = np.zeros((height, width), np.uint8)
    order = [str(ink) for ink in printer.inks]
    density = round(255 * rule.underbase.density / 100)
    separate_pixels(artwork.pixels, table.grid, Planes(planes, coverage, table.places_in(order), order.index(WHITE), density))
    if exact is not None:
        lay(artwork.pixels, exact.values, exact.planes(order, white=WHITE, density=density), planes, coverage)
    return Separation(tuple(order), planes, coverage, size.width_mm, size.height_mm)


def out_of_gamut_percent(artwork: Artwork, table: SeparationTable) -> float:
    """Share of the artwork, in percent and weighted by alpha, that lies further than ΔE00 5 from any printable colour."""
    total, beyond = share_above(artwork.pixels, table.miss_grid, OUT_OF_GAMUT)
    return 100 * beyond / total if total else 0.0
