"""Where in the inks' space the chart is too thin: how well each hue sector is known, as bars."""

from typing import Final, NamedTuple

import numpy as np
from markupsafe import Markup

from filmhand.colour.fitted.accuracy import Accuracy, Trust
from filmhand.colour.report.look import mix
from filmhand.colour.report.plot import Axis, Plot

_ROW: Final = 34.0
_EDGES: Final = 50.0
_LEAST: Final = 1.0
"""ΔE00 that the axis reaches at least: differences below it are hardly seen, and bars shall not look long there."""
_STEPS: Final = (0.25, 0.5, 1.0, 2.0, 5.0, 10.0)


class Known(NamedTuple):
    """A sector: the letters of its inks, the expected ΔE00 in the mean and at worst, and the mix that is known worst."""

    inks: str
    mean: float
    worst: float
    worst_mix: str


def known(accuracy: Accuracy) -> tuple[Known, ...]:
    """Every sector, the least known first."""
    return tuple(Known(_letters(one), one.mean, one.worst, mix(one.worst_inks)) for one in accuracy.trust)


def known_figure(accuracy: Accuracy) -> Markup:
    """A bar a sector: how far a mix of its inks may be off, in the mean; a tick where the worst is."""
    count = len(accuracy.trust)
    most = max(_LEAST, *(one.worst for one in accuracy.trust))
    step = next((step for step in _STEPS if step * 5 >= most), _STEPS[-1])
    high = step * float(np.ceil(1.02 * most / step))
    ticks = tuple(float(tick) for tick in np.arange(0, high + step / 2, step))
    plot = Plot(Axis(0, high, ticks, "expected to be off by, ΔE00"), Axis(count, 0, (), ""), (352.0, _EDGES + _ROW * count))
    parts = []
    for row, one in enumerate(accuracy.trust):
        across = np.array([0, one.mean, one.mean, 0])
        parts += [
            plot.words(0.01 * high, row + 0.36, _letters(one)),
            plot.area(across, row + np.array([0.46, 0.46, 0.8, 0.8]), "bar"),
            plot.line(np.array([one.mean, one.worst]), np.full(2, row + 0.63), "mark"),
            plot.line(np.full(2, one.worst), row + np.array([0.46, 0.8]), "mark"),
        ]
    return plot.svg(parts, title="How well each group of inks is known")


def _letters(one: Trust) -> str:
    return " ".join(one.inks)
