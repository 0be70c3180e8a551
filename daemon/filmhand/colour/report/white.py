"""How well white hides the garment: a figure of its wedge over black and over white, and how much white it takes."""

import math
from typing import Final, NamedTuple

import numpy as np
from markupsafe import Markup

from filmhand.colour.cielab import D50_WHITE
from filmhand.colour.measured.readings import Readings
from filmhand.colour.report.facts import WhiteWedge
from filmhand.colour.report.plot import Axis, Plot
from filmhand.rules import WHITE

HIDING: Final = 0.98
"""Contrast ratio from which a coat counts as hiding (ISO 6504-1 asks what spreads to it)."""
_EVEN: Final = np.linspace(0, 1, 65)
_ABOVE, _BELOW = 4.0, -8.0
"""Where a line's name stands beside it, in percent of light."""
_PERCENT: Final = (0.0, 25.0, 50.0, 75.0, 100.0)


class Hiding(NamedTuple):
    """`contrast`: of full white, over the grounds that were measured, 0 to 1. `needed`: the white, 1 = full, that reaches
    `HIDING`; None where no amount does. `miss`: of the model from the wedge, mean ΔE00. `kind`: how white is laid, in words."""

    figure: Markup
    contrast: float
    needed: float | None
    miss: float
    kind: str


def hiding(wedge: WhiteWedge) -> Hiding:
    """Over the grounds of the wedge."""
    opacity = wedge.fit.opacity
    black, white = (_bare(readings) for readings in (wedge.on_black, wedge.on_white))
    needed = opacity.amount_for_contrast(HIDING, black=black, white=white)
    contrast = opacity.contrast_ratio(1.0, black=black, white=white)
    kind = {0.0: "as an even layer", 1.0: "as dots"}.get(opacity.closes_at, "as dots that close up to a layer")
    return Hiding(_figure(wedge), contrast, None if math.isinf(needed) else needed, wedge.fit.miss, kind)


def _figure(wedge: WhiteWedge) -> Markup:
    plot = Plot(Axis(0, 100, _PERCENT, "white sent, %"), Axis(0, 100, _PERCENT, "light sent back (Y), %"))
    parts = []
    for readings, kind, name in ((wedge.on_black, "on-black", "on black"), (wedge.on_white, "on-white", "on white")):
        sent, seen = _steps(readings)
        ground = readings.xyz[int(np.argmin(readings.amounts[:, readings.inks.index(WHITE)]))]
        light = np.array([wedge.fit.opacity.white(float(amount), garment=ground)[1] for amount in _EVEN])
        at = 100 * float(light[len(light) // 2]) + (_ABOVE if kind == "on-white" else _BELOW)
        parts += [
            plot.line(100 * _EVEN, 100 * light, kind),
            plot.dots(100 * sent, 100 * seen, "dot"),
            plot.words(52, min(at, 94.0), name),
        ]
    return plot.svg(parts, title="White over black and over white")


def _bare(readings: Readings) -> float:
    """Y of the ground without white."""
    sent, seen = _steps(readings)
    return float(seen[sent == sent.min()].mean())


def _steps(readings: Readings) -> tuple[np.ndarray, np.ndarray]:
    """White (m,) as sent, and Y (m,), where no other ink lies."""
    column = readings.inks.index(WHITE)
    alone = np.delete(readings.amounts, column, axis=1).sum(axis=1) == 0
    return readings.amounts[alone, column], readings.xyz[alone, 1] / D50_WHITE[1]
