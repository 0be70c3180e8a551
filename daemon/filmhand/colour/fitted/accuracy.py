"""How far a fitted model can be trusted: patches foretold by all others, and where in the inks' space the chart is too thin."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import D50_WHITE, lab_from_xyz
from filmhand.colour.fitted.fit import Fit, chosen, fitted
from filmhand.colour.sectors import sectors

Floats = NDArray[np.float64]

_FOLDS: Final = 8
_NAMED: Final = 10
_TRIED: Final = 600
"""Ink mixes of each sector of which it is asked how well they are known."""


@dataclass(frozen=True)
class Miss:
    """A patch as the model without it foretells it.

    `inks`: its amounts by letter, those that are 0 left out. `measured`, `foretold`: CIELAB over film white.
    """

    name: str
    inks: dict[str, float]
    delta_e: float
    measured: tuple[float, float, float]
    foretold: tuple[float, float, float]


@dataclass(frozen=True)
class Trust:
    """How well mixes of up to four inks are known: the expected ΔE00, its mean, the largest, and of which mix that is."""

    inks: tuple[str, ...]
    mean: float
    worst: float
    worst_inks: dict[str, float]


@dataclass(frozen=True)
class Accuracy:
    """ΔE00 of patches left out of the model and foretold by it, in `_FOLDS` turns: all but paper, full inks and their overprints.

    `misses`: of each of them, in no order, with the readings' own scatter in it; `mean`, `percentile95`, `largest`: of these.
    `scatter`: that scatter, ΔE00, as the fit judges it. `worst`: the patches missed most. `trust`: for each hue sector, least
    known first.
    """

    misses: tuple[float, ...]
    mean: float
    percentile95: float
    largest: float
    scatter: float
    worst: tuple[Miss, ...]
    trust: tuple[Trust, ...]


def accuracy(fit: Fit, *, ink_limit: float) -> Accuracy:
    """Judge a fit. `ink_limit`: most ink together, 1 = one full ink; mixes above it are of no interest."""
    rows, foretold = _foretold(fit)
    delta_e = difference(lab_from_xyz(foretold), lab_from_xyz(fit.used.xyz[rows]))
    worst = [_miss(fit, int(rows[i]), foretold[i], float(delta_e[i])) for i in np.argsort(-delta_e)[:_NAMED]]
    lab = lab_from_xyz(fit.used.xyz / fit.model.white * D50_WHITE)
    trust = [_trust(fit, inks, ink_limit) for inks in sectors(fit.model.inks)]
    return Accuracy(
        misses=tuple(float(miss) for miss in delta_e),
        mean=float(delta_e.mean()),
        percentile95=float(np.percentile(delta_e, 95)),
        largest=float(delta_e.max()),
        scatter=float(_expected(lab, np.broadcast_to(fit.model.rest.noise, lab.shape)).mean()),
        worst=tuple(worst),
        trust=tuple(sorted(trust, key=lambda sector: -sector.mean)),
    )


def _foretold(fit: Fit) -> tuple[NDArray[np.intp], Floats]:
    """Rows (m,) of the patches judged, and the absolute XYZ (m, 3) that the model of the others says of each."""
    amounts = fit.used.amounts
    judged = np.flatnonzero(((amounts > 0) & (amounts < 1)).any(axis=1))
    if not ((amounts[judged] > 0).sum(axis=1) > 1).any():  # wedges alone say nothing of mixtures: overprints must serve
        judged = np.flatnonzero((amounts > 0).sum(axis=1) != 1)
        judged = judged[amounts[judged].any(axis=1)]
    fold = np.random.default_rng(0).permutation(len(judged)) % _FOLDS
    foretold = np.empty((len(judged), 3))
    for turn in range(_FOLDS):
        out = judged[fold == turn]
        others = chosen(fit.used, np.setdiff1d(np.arange(len(amounts)), out))
        model = fitted(others, n=fit.model.yule_nielsen, known=fit.model.rest.judged)
        foretold[fold == turn] = model.absolute_xyz(amounts[out])
    return judged, foretold


def _miss(fit: Fit, row: int, foretold: Floats, delta_e: float) -> Miss:
    measured, other = (lab_from_xyz(xyz / fit.model.white * D50_WHITE).tolist() for xyz in (fit.used.xyz[row], foretold))
    return Miss(fit.used.names[row], _named(fit, fit.used.amounts[row]), delta_e, tuple(measured), tuple(other))


def _trust(fit: Fit, inks: tuple[str, ...], ink_limit: float) -> Trust:
    """Of mixes spread evenly at random over a sector, within the ink limit."""
    mixes = np.zeros((_TRIED, len(fit.model.inks)))
    columns = [fit.model.inks.index(ink) for ink in inks]
    mixes[:, columns] = np.random.default_rng(0).random((_TRIED, len(inks)))
    mixes *= np.minimum(1, ink_limit / np.maximum(mixes.sum(axis=1, keepdims=True), 1e-9))
    lab = lab_from_xyz(fit.model.xyz(mixes))
    expected = _expected(lab, fit.model.rest.spread(fit.model.halftones.tones(mixes)))
    least = int(expected.argmax())
    return Trust(inks, float(expected.mean()), float(expected[least]), _named(fit, mixes[least]))


def _expected(lab: Floats, deviation: Floats) -> Floats:
    """ΔE00 (m,) to be expected where L*, a* and b* scatter by standard deviations (m, 3) about colours (m, 3)."""
    parts = [difference(lab, lab + deviation * axis) for axis in np.eye(3)]
    return np.asarray(np.sqrt(np.square(parts).sum(axis=0)))


def _named(fit: Fit, amounts: Floats) -> dict[str, float]:
    return {ink: round(float(amount), 3) for ink, amount in zip(fit.model.inks, amounts, strict=True) if amount > 0}
