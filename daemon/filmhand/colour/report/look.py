"""How inks and colours are named and shown on the page."""

from collections.abc import Mapping
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from filmhand.colour import srgb
from filmhand.rules import Ink

Floats = NDArray[np.float64]

NO_BREAK: Final = "\xa0"


class Swatch(NamedTuple):
    """A colour to show, "#rrggbb", and what stands beside it."""

    colour: str
    words: str


def ink_name(letter: str) -> str:
    """ "Cyan" for C."""
    return Ink(letter).name.capitalize()


def mix(inks: Mapping[str, float]) -> str:
    """Amounts by letter, 0 to 1, in words: "C 40 %, K 20 %"."""
    return ", ".join(f"{ink}{NO_BREAK}{100 * amount:.0f}{NO_BREAK}%" for ink, amount in inks.items()) or "no ink"


def hexes(xyz: Floats) -> list[str]:
    """ "#rrggbb" of XYZ (m, 3), D50, Y 1 = white; what a screen cannot show is the nearest that it can."""
    return ["#" + bytes(row).hex() for row in srgb.srgb_from_xyz(xyz)]


def lab_words(lab: Floats) -> str:
    """L*, a* and b* of one colour (3,), to a tenth."""
    return " ".join(f"{value:.1f}".replace("-0.0", "0.0").replace("-", "−") for value in lab)
