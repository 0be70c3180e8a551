"""The inks for a colour: the Neugebauer model of C, M, Y and K solved backwards, as one small minimisation a colour.

Sought are the inks that minimise, within 0 to 1 each and the ink limit together,

    ‖G (colour of inks - wanted colour)‖²  +  w (K - K_wanted)²

over Oklab. Black generation sets K_wanted from the colour's lightness and chroma. Its weight w is so small that, of all inks
that give the colour exactly, those with K nearest to K_wanted are found: the colour is missed by less than ΔE00 0.1. For a
colour out of gamut the first term alone matters, and the metric G makes a turn of hue cost more than as much lightness or
chroma. Both terms change smoothly with the wanted colour, and so do the inks: no banding.

Method: Levenberg 1944 and Marquardt 1963, each step kept within the bounds (descent.py). Weights: our own, no source.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.descent import UNITS, Bounded, descend_all
from filmhand.colour.neugebauer import to_mixing_space
from filmhand.colour.oklab import oklab_from_xyz
from filmhand.rules import BlackGeneration

Floats = NDArray[np.float64]

_HUE_COST: Final = 1.5
"""How many times a turn of hue costs the same change of chroma or lightness, where the colour is a strong one."""
_GRAY: Final = 0.04
"""Oklab chroma up to which a colour counts rather as gray, whose hue is of no account."""


@dataclass(frozen=True)
class _Onset:
    """Where black sets in: at what Oklab lightness, how steeply, and at what chroma half of it is left."""

    lightness: float
    power: float
    chroma: float


_ONSETS: Final = {
    BlackGeneration.LIGHT: _Onset(0.65, 2.0, 0.06),
    BlackGeneration.MEDIUM: _Onset(0.85, 1.6, 0.10),
    BlackGeneration.HEAVY: _Onset(0.95, 1.3, 0.25),
}


@dataclass(frozen=True)
class Bounds:
    """What limits the inks: their sum (1 = one full ink), how black is made, and whether there is a black ink."""

    limit: float
    black: BlackGeneration
    has_black: bool


def inks_for(xyz: Floats, *, primaries: Floats, n: float, bounds: Bounds) -> Floats:
    """C, M, Y, K (m, 4) for colours (m, 3) by `primaries` (16, 3), in `neugebauer.demichel`'s order; all XYZ, D50.

    Without black ink the last column is 0, and the primaries with K are of no account.
    """
    target = oklab_from_xyz(xyz)
    darkest = float(oklab_from_xyz(primaries).min(axis=0)[0])
    wanted_black = _wanted_black(target, bounds, darkest)
    upper = np.array([1.0, 1.0, 1.0, 1.0 if bounds.has_black else 0.0])
    printer = Bounded(to_mixing_space(primaries, n), n, upper, min(bounds.limit, float(upper.sum())))
    return descend_all(target * UNITS, _metric(target), wanted_black, printer)


def _wanted_black(target: Floats, bounds: Bounds, darkest: float) -> Floats:
    """K (m,), 0 to 1, that black generation asks for; least ink asks for as much as the colour can take."""
    if bounds.black is BlackGeneration.LEAST_INK:
        return np.ones(len(target))
    onset = _ONSETS[bounds.black]
    depth = np.clip((onset.lightness - target[:, 0]) / (onset.lightness - darkest), 0, 1)
    chroma = np.hypot(target[:, 1], target[:, 2])
    return np.asarray(depth**onset.power / (1 + (chroma / onset.chroma) ** 2))


def _metric(target: Floats) -> Floats:
    """G (m, 3, 3): the unit matrix, stretched along the hue's tangent by up to `_HUE_COST` as the colour is a strong one."""
    chroma = np.hypot(target[:, 1], target[:, 2])
    tangent = np.stack([-target[:, 2], target[:, 1]], axis=-1) / np.maximum(chroma, 1e-12)[:, None]
    stretch = (_HUE_COST - 1) * chroma**2 / (chroma**2 + _GRAY**2)
    metric = np.tile(np.eye(3), (len(target), 1, 1))
    metric[:, 1:, 1:] += stretch[:, None, None] * tangent[:, :, None] * tangent[:, None, :]
    return metric
