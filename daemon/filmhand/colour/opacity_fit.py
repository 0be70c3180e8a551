"""White's opacity from its wedge, printed on a black and on a white ground and measured on both.

Full white over both grounds gives R∞ and SX in closed form, to start from. What lies between none and full is tried as dots, as a
layer and as dots that close up; for each, R∞, SX and one volume a step are fitted to all steps at once by least squares. On two
grounds these differ, for dots let the bare ground through and a layer dims it. The least miss decides, and the simpler where
it is nearly as good.
"""

from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from filmhand.colour import kubelka_munk
from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import D50_WHITE, lab_from_xyz
from filmhand.colour.measured.readings import Readings
from filmhand.colour.measured.repeats import averaged
from filmhand.colour.neugebauer import between
from filmhand.colour.opacity import Opacity, laid
from filmhand.errors import SettingsError
from filmhand.rules import Ink

Floats = NDArray[np.float64]

DOTS: Final = 1.0
LAYER: Final = 0.0
_CLOSINGS: Final = np.linspace(LAYER, DOTS, 11)
_FACTORS: Final = np.linspace(1.0, 2.0, 5)
"""Yule-Nielsen factors tried: 1 is no light spreading in the ground, 2 is light spread wholly (Yule and Nielsen 1951)."""
_WORTH_IT: Final = 0.8
"""Dots that close up must leave less than this share of the simpler two's miss: they have one number more to be wrong about."""
_UNSEEN: Final = 0.05
"""ΔE00 less in the mean is worth nothing."""
_VOLUMES: Final = np.linspace(0.0, 1.0, 201)
_ROUNDS: Final = 5
_STEP: Final = 1e-5
_DAMPING: Final = 1e-3
_LEAST_SCATTER: Final = 0.01
_NEXT_STEP: Final = (
    "Measure the white wedge on black and on white, every step of both, with bare ground and full white among them"
)


@dataclass(frozen=True)
class OpacityFit:
    """What explains the wedge, and how well: mean ΔE00 over the wedge on both grounds."""

    opacity: Opacity
    miss: float
    """Of the model chosen."""
    miss_as_dots: float
    """If white were dots all the way."""
    miss_as_layer: float
    """If it were a layer all the way."""


class _Wedge(NamedTuple):
    """Amounts (m,) rising from 0 to 1, and the reflectances (2, m, 3) over black and over white, X, Y and Z each over D50's."""

    amounts: Floats
    seen: Floats


def fit_opacity(*, black: Readings, white: Readings) -> OpacityFit:
    """White's opacity from readings of one wedge on a black and on a white ground; "W" is among their inks, the others at 0.

    The white ground is taken for that of the shop's charts. SettingsError where steps are missing or full white hides nothing.
    """
    wedge = _wedge(black, white)
    full = _full_layer(wedge)
    tried = [_fitted(wedge, full, closes_at=float(c), n=float(n)) for c in _CLOSINGS for n in (_FACTORS if c > LAYER else [1.0])]
    misses = np.array([_miss(opacity, wedge) for opacity in tried])
    closings = np.array([opacity.closes_at for opacity in tried])
    as_dots, as_layer = (float(misses[closings == closing].min()) for closing in (DOTS, LAYER))
    worth_it = misses.min() < min(_WORTH_IT * min(as_dots, as_layer), min(as_dots, as_layer) - _UNSEEN)
    best = np.argmin(misses if worth_it else np.where((closings == DOTS) | (closings == LAYER), misses, np.inf))
    return OpacityFit(tried[best], float(misses[best]), as_dots, as_layer)


def _wedge(black: Readings, white: Readings) -> _Wedge:
    amounts, dark = _steps(black)
    light_amounts, light = _steps(white)
    shared = np.intersect1d(amounts, light_amounts)
    if 0 not in shared or 1 not in shared:
        raise SettingsError("The readings hold no white wedge from none to full on both grounds", next_step=_NEXT_STEP)
    return _Wedge(shared, np.stack([dark[np.isin(amounts, shared)], light[np.isin(light_amounts, shared)]]))


def _steps(readings: Readings) -> tuple[Floats, Floats]:
    """Amounts (m,) of white where no other ink lies, rising, and their reflectances (m, 3), repeats averaged."""
    if Ink.WHITE not in readings.inks:
        raise SettingsError("The readings do not say how much white was laid", next_step=_NEXT_STEP)
    column = readings.inks.index(Ink.WHITE)
    alone = np.flatnonzero(np.delete(readings.amounts, column, axis=1).sum(axis=1) == 0)
    names = tuple(readings.names[row] for row in alone)
    steps = averaged(Readings((Ink.WHITE,), names, readings.amounts[alone][:, [column]], readings.xyz[alone])).readings
    order = np.argsort(steps.amounts[:, 0])
    return np.round(steps.amounts[order, 0], 4), steps.xyz[order] / D50_WHITE


def _full_layer(wedge: _Wedge) -> tuple[Floats, Floats]:
    """R∞ and SX (3,) each of full white."""
    (dark, light), (on_dark, on_light) = wedge.seen[:, 0], wedge.seen[:, -1]
    if not (np.all(light > dark) and np.all(on_dark > dark)):
        raise SettingsError(
            "Full white on black is no lighter than the black, or the two grounds are alike", next_step=_NEXT_STEP
        )
    return kubelka_munk.layer_seen_on((dark, light), (on_dark, on_light))


def _fitted(wedge: _Wedge, full: tuple[Floats, Floats], *, closes_at: float, n: float) -> Opacity:
    """The model with these two given: R∞, ln SX and the volumes between none and full by Levenberg and Marquardt's descent."""
    looks = _Looks(wedge, closes_at, n)
    wanted = lab_from_xyz(wedge.seen * D50_WHITE)
    infinite, scatter = full
    unknown = np.concatenate([infinite, np.log(np.maximum(scatter, _LEAST_SCATTER)), looks.nearest(full, wanted)])
    damping = _DAMPING
    for _ in range(_ROUNDS):
        seen = looks.lab(unknown)
        miss = (wanted - seen).ravel()
        slopes = np.stack([(looks.lab(unknown + step) - seen).ravel() / _STEP for step in _STEP * np.eye(len(unknown))], axis=1)
        damped = slopes.T @ slopes
        damped[np.diag_indices_from(damped)] *= 1 + damping
        better = looks.within_reason(unknown + np.linalg.lstsq(damped, slopes.T @ miss, rcond=None)[0])
        if np.square(wanted - looks.lab(better)).sum() < miss @ miss:
            unknown, damping = better, damping / 10
        else:
            damping *= 100
    infinite, scatter, volumes = looks.parts(unknown)
    rising = tuple(np.maximum.accumulate(volumes).tolist())
    return Opacity(infinite, scatter, wedge.seen[1, 0] * D50_WHITE, closes_at, n, tuple(wedge.amounts.tolist()), rising)


class _Looks(NamedTuple):
    """How a wedge would look on both grounds; unknown are R∞ (3), ln SX (3) and the volumes of all steps but none and full."""

    wedge: _Wedge
    closes_at: float
    n: float

    def lab(self, unknown: Floats) -> Floats:
        """CIELAB (2, m, 3)."""
        infinite, scatter, volumes = self.parts(unknown)
        return self._lab((infinite, scatter), volumes)

    def nearest(self, full: tuple[Floats, Floats], wanted: Floats) -> Floats:
        """The volumes (m - 2,) that come nearest to CIELAB (2, m, 3), with full white's R∞ and SX given."""
        colours = self._lab(full, _VOLUMES)
        apart = np.square(colours[:, None] - wanted[:, 1:-1, None]).sum(axis=(0, 3))
        return np.asarray(_VOLUMES[np.argmin(apart, axis=1)])

    def parts(self, unknown: Floats) -> tuple[Floats, Floats, Floats]:
        """R∞ (3,), SX (3,) and the volumes (m,)."""
        return unknown[:3], np.exp(unknown[3:6]), np.concatenate([[0.0], unknown[6:], [1.0]])

    def within_reason(self, unknown: Floats) -> Floats:
        """The same with R∞, SX and volumes within bounds."""
        infinite = np.clip(unknown[:3], _LEAST_SCATTER, 1)
        scatter = np.clip(unknown[3:6], np.log(_LEAST_SCATTER), np.log(kubelka_munk.MOST_SCATTER))
        return np.concatenate([infinite, scatter, np.clip(unknown[6:], 0, 1)])

    def _lab(self, full: tuple[Floats, Floats], volumes: Floats) -> Floats:
        infinite, scatter = full
        area, thickness = laid(volumes, self.closes_at)
        grounds = self.wedge.seen[:, :1]
        solid = kubelka_munk.layer(grounds, infinite=infinite, scatter=scatter * thickness[:, None])
        return lab_from_xyz(between(grounds, solid, area[:, None], n=self.n) * D50_WHITE)


def _miss(opacity: Opacity, wedge: _Wedge) -> float:
    found = [[opacity.white(amount, garment=ground * D50_WHITE) for amount in wedge.amounts] for ground in wedge.seen[:, 0]]
    return float(difference(lab_from_xyz(np.array(found)), lab_from_xyz(wedge.seen * D50_WHITE)).mean())
