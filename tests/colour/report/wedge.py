"""An invented white wedge on black and on white, for tests of the report."""

import numpy as np

from filmhand.colour.cielab import D50_WHITE
from filmhand.colour.measured.readings import Readings
from filmhand.colour.opacity import Opacity
from filmhand.colour.opacity_fit import fit_opacity
from filmhand.colour.report.facts import WhiteWedge


def white_wedge() -> WhiteWedge:
    """R∞ 0.9 and SX 2 laid as dots, on grounds of Y 0.03 and 0.8."""
    opacity = Opacity(np.full(3, 0.9), np.full(3, 2.0), 0.8 * D50_WHITE)
    amounts = np.linspace(0, 1, 6)

    def over(ground: float) -> Readings:
        xyz = np.array([opacity.white(float(amount), garment=ground * D50_WHITE) for amount in amounts])
        return Readings(("W",), tuple("abcdef"), amounts[:, None], xyz)

    black, white = over(0.03), over(0.8)
    return WhiteWedge(black, white, fit_opacity(black=black, white=white))
