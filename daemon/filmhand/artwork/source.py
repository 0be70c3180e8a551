"""A picture as its file holds it, read a band of rows at a time: before colour, alpha and orientation are settled."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.preflight.finding import Finding, Severity
from filmhand.words import Phrase

ALPHA: Final = "alpha"
_EXTRA: Final = Phrase("The file has an extra channel that it does not call transparency; it is left out.")
_EXTRA_ADVICE: Final = Phrase("If it was meant as transparency, please export a PNG with a transparent background.")

BAND_ROWS: Final = 256


class Colour(StrEnum):
    """What a pixel's numbers mean."""

    GRAY = "gray"
    RGB = "RGB"
    CMYK = "CMYK"
    LAB = "CIELAB"

    @property
    def channels(self) -> int:
        """Numbers a pixel, alpha apart."""
        return {Colour.GRAY: 1, Colour.RGB: 3, Colour.CMYK: 4, Colour.LAB: 3}[self]


class Alpha(StrEnum):
    """Whether there is transparency, and whether colour was already multiplied by it (TIFF 6.0 section 18) or laid on white."""

    NONE = "none"
    STRAIGHT = "straight"
    ASSOCIATED = "associated"
    ON_WHITE = "laid on white"


@dataclass(frozen=True)
class Source:
    """A decoded picture.

    `rows`: rows [top, bottom) as (bottom - top)×w×n uint8, n = the colour's channels and one for alpha; gray 0 = black, CMYK
    255 = full ink, alpha 255 = opaque; CIELAB: L* 255 = 100, a* and b* 128 = neutral, one a unit.
    `profile`: the embedded ICC profile, unchecked. `says_srgb`: the file says in another way that it is sRGB.
    `ppi`: as stated, across and down as stored. `orientation`: EXIF tag 0x0112, 1 to 8.
    """

    width_px: int
    height_px: int
    colour: Colour
    alpha: Alpha
    rows: Callable[[int, int], NDArray[np.uint8]]
    profile: bytes | None = None
    says_srgb: bool = False
    ppi: tuple[float, float] | None = None
    orientation: int = 1
    findings: tuple[Finding, ...] = ()


def extra_note() -> Finding:
    """The finding that a channel beside the colours was left out: a saved selection, a spot colour, or transparency unsaid."""
    return Finding(ALPHA, Severity.WARN, _EXTRA(), _EXTRA_ADVICE())


def bands(height_px: int) -> Iterator[tuple[int, int]]:
    """Top and bottom of bands of rows, from the first row to the last."""
    for top in range(0, height_px, BAND_ROWS):
        yield top, min(height_px, top + BAND_ROWS)


_LEAST_PPI, _MOST_PPI = 10.0, 20_000.0


def stated_ppi(across: float, down: float) -> tuple[float, float] | None:
    """A resolution that a file states, if it can be meant: files also state 0, 1 and nonsense."""
    return (float(across), float(down)) if all(_LEAST_PPI <= ppi <= _MOST_PPI for ppi in (across, down)) else None


def rounded_to_8(deep: NDArray[np.uint16]) -> NDArray[np.uint8]:
    """16-bit values (any shape, 65535 = full) as 8-bit ones, rounded: 65535/255 = 257 exactly."""
    wide = deep.astype(np.uint32)
    wide += 128
    wide //= 257
    return wide.astype(np.uint8)
