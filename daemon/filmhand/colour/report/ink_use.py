"""What black generation does to ink: figures of the gray axis, and the ink that some everyday colours take."""

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np
from markupsafe import Markup
from numpy.typing import NDArray

from filmhand.colour import srgb
from filmhand.colour.cielab import xyz_from_lab
from filmhand.colour.inverse.settle import Nodes
from filmhand.colour.model import InkModel
from filmhand.colour.report.plot import NARROW, Axis, Plot
from filmhand.rules import BlackGeneration, ColourRules, Intent

Floats = NDArray[np.float64]

ORDER: Final = (BlackGeneration.LIGHT, BlackGeneration.MEDIUM, BlackGeneration.HEAVY, BlackGeneration.LEAST_INK)
EVERYDAY: Final = (
    ("Skin", "#c99a7c"),
    ("Brick", "#9c4a3a"),
    ("Chocolate", "#6a4836"),
    ("Moss", "#5d6b45"),
    ("Denim", "#4d6a92"),
    ("Slate", "#5a6068"),
)
"""Chosen by eye for having black to trade for colours in them."""
_STEPS: Final = 34
_ROOMY: Final = 150.0
"""Percent of ink from which a tick each 100 % is enough."""


class GrayAxis(NamedTuple):
    """One black generation: its figure, and the ink at its heaviest and of all grays in the mean, % of one full ink."""

    black: str
    figure: Markup
    heaviest: float
    mean: float


class Everyday(NamedTuple):
    """A colour, "#rrggbb", and the ink it takes by black generation in the order of `ORDER`, % of one full ink."""

    name: str
    colour: str
    totals: tuple[float, ...]


def gray_axes(model: InkModel, *, ink_limit: float) -> tuple[GrayAxis, ...]:
    """Inks from white to black for every black generation, all figures on one scale."""
    lightness = np.linspace(100, 0, _STEPS)
    grays = xyz_from_lab(np.stack([lightness, 0 * lightness, 0 * lightness], axis=1))
    found = [100 * _along(grays, model, _rules(black, ink_limit)) for black in ORDER]
    most = max(float(inks.sum(axis=1).max()) for inks in found)
    ticks = tuple(float(tick) for tick in range(0, int(most) + 1, 50 if most < _ROOMY else 100))
    plot = Plot(Axis(100, 0, (100, 50, 0), "L* of the gray"), Axis(0, 1.05 * most, ticks, "ink, %"), NARROW)
    return tuple(_gray_axis(black, lightness, inks, plot, model.inks) for black, inks in zip(ORDER, found, strict=True))


def everyday(model: InkModel, *, ink_limit: float) -> tuple[Everyday, ...]:
    """The ink that some colours take."""
    xyz = np.array([srgb.xyz_of_hex(colour) for _, colour in EVERYDAY])
    totals = np.stack([[_along(one[None], model, _rules(black, ink_limit)).sum() for black in ORDER] for one in xyz])
    return tuple(
        Everyday(name, colour, tuple(float(total) for total in 100 * row))
        for (name, colour), row in zip(EVERYDAY, totals, strict=True)
    )


def _gray_axis(black: BlackGeneration, lightness: Floats, inks: Floats, plot: Plot, letters: Sequence[str]) -> GrayAxis:
    """`inks` (m, k) in percent, stacked; black lowest, for it is what differs."""
    order = sorted(range(len(letters)), key=lambda column: (letters[column] != "K", column))
    floor, parts = np.zeros(len(lightness)), []
    for column in order:
        top = floor + inks[:, column]
        if inks[:, column].max() > 0:
            parts.append(plot.band(lightness, floor, top, f"area ink-{letters[column]}"))
        floor = top
    total = inks.sum(axis=1)
    word = black.value.replace("-", " ")
    figure = plot.svg([*parts, plot.line(lightness, total, "mark")], title=f"{word.capitalize()}: inks along the gray axis")
    return GrayAxis(word, figure, float(total.max()), float(total.mean()))


def _along(xyz: Floats, model: InkModel, rules: ColourRules) -> Floats:
    """Inks (m, k) of a line of colours (m, 3), as separation would have them: tolerance spent, and smooth along it."""
    grid = xyz[:, None, None, :]
    places = np.arange(float(len(xyz)))
    nodes = Nodes((places, np.zeros(1), np.zeros(1)), np.ones(grid.shape[:3], np.bool_))
    return np.asarray(model.settled(model.inks_for(grid, rules), nodes, rules)[:, 0, 0])


def _rules(black: BlackGeneration, ink_limit: float) -> ColourRules:
    return ColourRules(intent=Intent.RELATIVE, black=black, ink_limit=100 * ink_limit)
