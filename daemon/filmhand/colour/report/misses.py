"""How far patches lie from what all others foretell: a figure of all of them, and those that lie furthest, side by side."""

from typing import Final, NamedTuple

import numpy as np
from markupsafe import Markup
from numpy.typing import NDArray

from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import D50_WHITE, lab_from_xyz, xyz_from_lab
from filmhand.colour.fitted.accuracy import Accuracy
from filmhand.colour.fitted.fit import Fit
from filmhand.colour.report.look import hexes, lab_words, mix
from filmhand.colour.report.plot import Axis, Plot

Floats = NDArray[np.float64]

_BINS: Final = 20
_STEPS: Final = (0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0, 5.0)
"""Widths of a bar, ΔE00."""
_MORE_TICKS: Final = (1, 2, 5, 10, 20, 50, 100, 200, 500, 1000)


class Missed(NamedTuple):
    """A patch: CIELAB over film white as measured and as foretold, in words and as "#rrggbb"."""

    name: str
    inks: str
    delta_e: float
    measured: str
    measured_colour: str
    foretold: str
    foretold_colour: str


def histogram(fit: Fit, accuracy: Accuracy) -> Markup:
    """How many patches lie how far from what all others say of them; lines where the mean and 95 of 100 are."""
    delta_e = foretelling_misses(fit)
    widest = max(float(delta_e.max()), accuracy.percentile95, 0.1)
    step = next((step for step in _STEPS if step * _BINS >= widest), _STEPS[-1])
    edges = np.arange(0, widest + step, step)
    counts, _ = np.histogram(delta_e, edges)
    every = next((tick for tick in _MORE_TICKS if tick * 5 >= counts.max()), _MORE_TICKS[-1])
    most = every * int(np.ceil((counts.max() * 1.15) / every))
    ticks = tuple(float(x) for x in edges[:: max(1, len(edges) // 5)])
    plot = Plot(
        Axis(0, float(edges[-1]), tuple(round(tick, 2) for tick in ticks), "off by, ΔE00"),
        Axis(0, most, tuple(float(y) for y in range(0, most + 1, every)), "patches"),
    )
    bars = [plot.bar(left, right, count, "bar") for left, right, count in zip(edges, edges[1:], counts, strict=False)]
    room = 0.01 * float(edges[-1])
    marks = [
        plot.upright(accuracy.mean, "mark"),
        plot.words(accuracy.mean + room, 0.94 * most, f"mean {accuracy.mean:.2f}"),
        plot.upright(accuracy.percentile95, "mark dashed"),
        plot.words(accuracy.percentile95 - room, 0.84 * most, f"95 % {accuracy.percentile95:.2f}", anchor="end"),
    ]
    return plot.svg([*bars, *marks], title=f"Patches by how far they are off: mean ΔE00 {accuracy.mean:.2f}")


def worst(fit: Fit, accuracy: Accuracy) -> tuple[Missed, ...]:
    """The patches missed most, worst first."""
    seen, foretold = _seen_and_foretold(fit)
    rows = [fit.used.names.index(miss.name) for miss in accuracy.worst]
    measured, others = hexes(xyz_from_lab(seen[rows])), hexes(xyz_from_lab(foretold[rows]))
    return tuple(
        Missed(miss.name, mix(miss.inks), miss.delta_e, lab_words(seen[row]), one, lab_words(foretold[row]), other)
        for miss, row, one, other in zip(accuracy.worst, rows, measured, others, strict=True)
    )


def foretelling_misses(fit: Fit) -> Floats:
    """ΔE00 (m,) of every patch with a halftone in it from what the surface through all others says."""
    halftones = ((fit.used.amounts > 0) & (fit.used.amounts < 1)).any(axis=1)
    seen, foretold = _seen_and_foretold(fit)
    return difference(seen[halftones], foretold[halftones])


def _seen_and_foretold(fit: Fit) -> tuple[Floats, Floats]:
    """CIELAB (m, 3) each, over film white."""
    seen = lab_from_xyz(fit.used.xyz / fit.model.white * D50_WHITE)
    return seen, seen - fit.model.rest.left_out()
