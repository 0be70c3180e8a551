"""Figures of each ink's tone curve: which share of the film it seems to cover, over what the printer was sent."""

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np
from markupsafe import Markup
from numpy.typing import NDArray

from filmhand.colour.fitted.fit import Fit, paper
from filmhand.colour.neugebauer import to_mixing_space
from filmhand.colour.report.look import ink_name
from filmhand.colour.report.plot import NARROW, Axis, Plot

Floats = NDArray[np.float64]

_PERCENT = (0.0, 50.0, 100.0)
_EVEN = np.linspace(0, 1, 65)


class Tone(NamedTuple):
    """An ink's curve as a figure, and how much a nominal 50 % covers, 0 to 1. `steps`: of its wedge, between none and full."""

    ink: str
    name: str
    figure: Markup
    at_half: float
    steps: int


def tones(fit: Fit) -> tuple[Tone, ...]:
    """Of every ink, in print order."""
    return tuple(_tones(fit))


def _tones(fit: Fit) -> Iterator[Tone]:
    halftones = fit.model.halftones
    for column, ink in enumerate(fit.model.inks):
        amounts = np.zeros((len(_EVEN), len(fit.model.inks)))
        amounts[:, column] = _EVEN
        curve = halftones.tones(amounts)[:, column]
        sent, covered = measured_tones(fit, column)
        name = ink_name(ink)
        plot = Plot(Axis(0, 100, _PERCENT, "sent, %"), Axis(0, 100, _PERCENT, "covered, %"), NARROW)
        parts = [
            plot.line(np.array([0, 100.0]), np.array([0, 100.0]), "straight"),
            plot.line(100 * _EVEN, 100 * curve, f"curve ink-{ink}"),
            plot.dots(100 * sent, 100 * covered, f"dot ink-{ink}"),
        ]
        half = float(np.interp(0.5, _EVEN, curve))
        title = f"{name}: 50 % sent covers {100 * half:.0f} %"
        yield Tone(ink, name, plot.svg(parts, title=title), half, len(sent))


def measured_tones(fit: Fit, column: int) -> tuple[Floats, Floats]:
    """Amounts (s,) of an ink's wedge, and the share (s,) each step covers, 0 to 1, by Yule and Nielsen's formula with the fitted
    factor: judged by the channels in which the ink is strongest, as the model's own tones are."""
    used, halftones = fit.used, fit.model.halftones
    alone = (used.amounts[:, column] > 0) & (np.delete(used.amounts, column, axis=1) == 0).all(axis=1)
    rows = np.flatnonzero(alone & (used.amounts[:, column] < 1))
    rows = rows[np.argsort(used.amounts[rows, column])]
    solid = to_mixing_space(halftones.overprints[1 << column], halftones.n)
    seen = to_mixing_space(np.maximum(_relative(fit, rows), 0), halftones.n)
    strengths = (1 - solid) ** 2
    covered = ((1 - seen) / np.maximum(1 - solid, 1e-3)) @ strengths / strengths.sum()
    return used.amounts[rows, column], np.asarray(covered)


def _relative(fit: Fit, rows: NDArray[np.intp]) -> Floats:
    """Reflectances (s, q) relative to film white, in the model's channels."""
    used = fit.used
    white = paper(used)
    if used.spectra is None:
        return np.asarray(used.xyz[rows] / used.xyz[white])
    return np.asarray(used.spectra.reflectances[rows] / np.maximum(used.spectra.reflectances[white], 1e-3))
