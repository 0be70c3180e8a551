"""Spot colours of a PDF that are in the shop's table of named colours."""

from dataclasses import dataclass, replace
from typing import Final

from filmhand.artwork.model import Artwork
from filmhand.artwork.pdf_facts import PdfFacts, Value
from filmhand.colour.named import NamedColour
from filmhand.intake.wardrobe import Named

_WHITE: Final = (255, 255, 255)


@dataclass(frozen=True)
class NamedSpot:
    """`written`: its name in the PDF. `name`: its name in the table. `value`: sRGB of its full tint, as the PDF is drawn."""

    written: str
    name: str
    value: Value


def named_spots(pdf: PdfFacts | None, colours: Named[NamedColour]) -> tuple[NamedSpot, ...]:
    """The named ones whose full tint can be told from the drawn page: not drawn white, nor as one before it."""
    found: dict[Value, NamedSpot] = {}
    for written, value in () if pdf is None else pdf.spot_values:
        entry = colours.find(written)
        if entry is not None and value != _WHITE:
            found.setdefault(value, NamedSpot(written, entry[0], value))
    return tuple(found.values())


def without_named_spots(artwork: Artwork, colours: Named[NamedColour]) -> Artwork:
    """The artwork without those among its PDF's spots, for they are no longer unknown inks."""
    named = {spot.written for spot in named_spots(artwork.pdf, colours)}
    if artwork.pdf is None or not named:
        return artwork
    return replace(artwork, pdf=replace(artwork.pdf, spots=tuple(spot for spot in artwork.pdf.spots if spot not in named)))
