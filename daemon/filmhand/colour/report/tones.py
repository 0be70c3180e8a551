"""Figures of each ink's tone curve: the tone value that is printed, over what the printer was sent."""

from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np
from markupsafe import Markup
from numpy.typing import NDArray

from filmhand.colour.cielab import D50_WHITE
from filmhand.colour.fitted.fit import Fit
from filmhand.colour.report.look import ink_name
from filmhand.colour.report.plot import NARROW, Axis, Plot
from filmhand.colour.tone import tone_value

Floats = NDArray[np.float64]

_PERCENT: Final = (0.0, 50.0, 100.0)
_EVEN: Final = np.linspace(0, 1, 65)
_DARKEST: Final = 0.99
"""A full ink that takes less than a hundredth of the light has no tones to speak of."""


class Tone(NamedTuple):
    """An ink's curve as a figure, and what a nominal 50 % prints as, 0 to 1. `steps`: of its wedge, between none and full."""

    ink: str
    name: str
    figure: Markup
    at_half: float
    steps: int


def tones(fit: Fit) -> tuple[Tone, ...]:
    """Of every ink, in print order."""
    return tuple(_tones(fit))


def _tones(fit: Fit) -> Iterator[Tone]:
    for column, ink in enumerate(fit.model.inks):
        curve = modelled_tones(fit, column, _EVEN)
        sent, printed = measured_tones(fit, column)
        name = ink_name(ink)
        plot = Plot(Axis(0, 100, _PERCENT, "sent, %"), Axis(0, 100, _PERCENT, "printed, %"), NARROW)
        parts = [
            plot.line(np.array([0, 100.0]), np.array([0, 100.0]), "straight"),
            plot.line(100 * _EVEN, 100 * curve, f"curve ink-{ink}"),
            plot.dots(100 * sent, 100 * printed, f"dot ink-{ink}"),
        ]
        half = float(np.interp(0.5, _EVEN, curve))
        title = f"{name}: 50 % sent prints as {100 * half:.0f} %"
        yield Tone(ink, name, plot.svg(parts, title=title), half, len(sent))


def modelled_tones(fit: Fit, column: int, sent: Floats) -> Floats:
    """Tone values (s,), 0 to 1, that the model has for amounts (s,) of one ink."""
    amounts = np.zeros((len(sent) + 1, len(fit.model.inks)))
    amounts[:, column] = [*sent, 1.0]
    light = fit.model.xyz(amounts) / D50_WHITE
    return _values(light[:-1], light[-1])


def measured_tones(fit: Fit, column: int) -> tuple[Floats, Floats]:
    """Amounts (s,) of an ink's wedge, none and full left out, and the tone value (s,), 0 to 1, of each step."""
    amounts = fit.used.amounts
    alone = (amounts[:, column] > 0) & (np.delete(amounts, column, axis=1) == 0).all(axis=1)
    rows = np.flatnonzero(alone)[np.argsort(amounts[alone, column])]
    light = fit.used.xyz[rows] / fit.model.white
    return amounts[rows[:-1], column], _values(light[:-1], light[-1])


def _values(light: Floats, solid: Floats) -> Floats:
    """Tone values (s,) of X, Y, Z (s, 3), film white's 1: by the one that the full ink (3,) darkens most (ISO 12647-1)."""
    channel = int(solid.argmin())
    return tone_value(light[:, channel], ground=1.0, solid=float(min(solid[channel], _DARKEST)))
