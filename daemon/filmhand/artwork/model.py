"""Artwork: a customer's file, opened."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand import units
from filmhand.artwork.ink_map import InkMap
from filmhand.artwork.pdf_facts import PdfFacts
from filmhand.preflight.finding import Finding


class Kind(StrEnum):
    """What a file is by its content, whatever its name says."""

    PNG = "PNG"
    JPEG = "JPEG"
    TIFF = "TIFF"
    WEBP = "WebP"
    PDF = "PDF"
    SVG = "SVG"
    PSD = "PSD"
    AVIF = "AVIF"
    GIF = "GIF"
    BMP = "BMP"


DRAWINGS: Final = (Kind.PDF, Kind.SVG)
"""Kinds that hold lines, which are drawn as fine as the print needs."""


@dataclass(frozen=True)
class Artwork:
    """Pixels of an opened file, upright; once cleared (mending/), cut to what is seen if the rule says so.

    `pixels`: h×w×4 uint8, RGB and alpha, straight (not premultiplied), alpha 255 = opaque. RGB is in the space of `profile`.
    `profile`: an RGB ICC profile's bytes; None means sRGB (IEC 61966-2-1).
    `ppi`: the resolution that the file itself states, across and down; None where it states none. A drawing's is the one at
    which it was drawn, and its stated size is exact.
    `findings`: what was noticed while opening (no profile, several pages, ...).
    `raster_ppi`: of the pictures inside a drawing (PDF, SVG), the resolution of the coarsest at the drawing's stated size; None
    where it holds none, and for other kinds.
    `before`: where it was mended, a small picture (h×w×4 uint8, as `pixels`) of how it came; else None.
    `pdf`: what a PDF's page says of itself (fonts, inks, overprint); None for other kinds.
    `source_ink`: how much ink artwork that came as CMYK asks for; None for other artwork.
    """

    pixels: NDArray[np.uint8]
    profile: bytes | None
    ppi: tuple[float, float] | None
    kind: Kind
    findings: tuple[Finding, ...] = ()
    raster_ppi: float | None = None
    before: NDArray[np.uint8] | None = None
    pdf: PdfFacts | None = None
    source_ink: InkMap | None = None

    @property
    def width_px(self) -> int:
        """Pixels across."""
        return int(self.pixels.shape[1])

    @property
    def height_px(self) -> int:
        """Pixels down."""
        return int(self.pixels.shape[0])


@dataclass(frozen=True)
class PrintedSize:
    """How large the artwork (trimmed) is printed, before any rotation on the film."""

    width_mm: float
    height_mm: float

    def effective_ppi(self, artwork: Artwork) -> float:
        """Artwork pixels an inch of print; the smaller of the two directions counts."""
        return min(units.ppi_of(artwork.width_px, self.width_mm), units.ppi_of(artwork.height_px, self.height_mm))
