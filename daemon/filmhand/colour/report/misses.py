"""How far patches lie from what all others foretell: a figure of all of them, and those that lie furthest, side by side."""

from typing import Final, NamedTuple

import numpy as np
from markupsafe import Markup

from filmhand.colour.cielab import xyz_from_lab
from filmhand.colour.fitted.accuracy import Accuracy
from filmhand.colour.report.look import hexes, lab_words, mix
from filmhand.colour.report.plot import Axis, Plot

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


def histogram(accuracy: Accuracy) -> Markup:
    """How many patches lie how far from what all others say of them; lines where the mean and 95 of 100 are."""
    delta_e = np.array(accuracy.misses)
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


def worst(accuracy: Accuracy) -> tuple[Missed, ...]:
    """The patches missed most, worst first."""
    measured = np.array([miss.measured for miss in accuracy.worst]).reshape(-1, 3)
    foretold = np.array([miss.foretold for miss in accuracy.worst]).reshape(-1, 3)
    colours = zip(measured, hexes(xyz_from_lab(measured)), foretold, hexes(xyz_from_lab(foretold)), strict=True)
    return tuple(
        Missed(miss.name, mix(miss.inks), miss.delta_e, lab_words(seen), one, lab_words(other), another)
        for miss, (seen, one, other, another) in zip(accuracy.worst, colours, strict=True)
    )
