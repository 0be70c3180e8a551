"""Artwork through a separation table to the printer's planes."""

from typing import Final

import numpy as np

from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.rules import HIGHLIGHT, WHITE, Printer, Rule
from filmhand.separation.bleed import bleed
from filmhand.separation.exact import ExactInks, lay
from filmhand.separation.lookup import Planes, separate_pixels, share_above
from filmhand.separation.model import Separation
from filmhand.separation.table import SeparationTable

OUT_OF_GAMUT: Final = 5.0
"""ΔE00 from the nearest printable colour beyond which a colour counts as out of gamut (common practice, no source)."""


def separate(
    artwork: Artwork, size: PrintedSize, *, table: SeparationTable, rule: Rule, printer: Printer, exact: ExactInks | None = None
) -> Separation:
    """The artwork's separation at its own resolution, its planes in the printer's order of planes, white last.

    Up to the rule's underbase density the table's white goes to the first white, what is above to the second. Inks that the table
    does not know stay empty. Nothing but the planes themselves is allocated. Pixels of `exact` values are film with just their
    inks over the fullest white, whatever the table says. Bare pixels beside film have its inks (`bleed`), but no coverage.
    """
    height, width = artwork.pixels.shape[:2]
    order = printer.planes
    planes = np.zeros((len(order), height, width), np.uint8)
    coverage = np.zeros((height, width), np.uint8)
    density = round(255 * rule.underbase.density / 100)
    highlight = order.index(HIGHLIGHT) if printer.highlight_white else -1
    out = Planes(planes, coverage, table.places_in(order), order.index(WHITE), highlight, density)
    separate_pixels(artwork.pixels, table.grid, out)
    if exact is not None:
        white = {WHITE: density} | ({HIGHLIGHT: round(255 * table.most_white) - density} if printer.highlight_white else {})
        lay(artwork.pixels, exact.values, exact.planes(order, white=white), planes, coverage)
    bleed(planes, coverage, np.array([density if plane == WHITE else 0 for plane in order], np.uint8))
    return Separation(order, planes, coverage, size.width_mm, size.height_mm)


def out_of_gamut_percent(artwork: Artwork, table: SeparationTable) -> float:
    """Share of the artwork, in percent and weighted by alpha, that lies further than ΔE00 5 from any printable colour."""
    total, beyond = share_above(artwork.pixels, table.miss_grid, OUT_OF_GAMUT)
    return 100 * beyond / total if total else 0.0
