"""The inks for a colour: the Neugebauer model of C, M, Y and K solved backwards, as one small minimisation a colour.

Sought are the inks that minimise, within 0 to 1 each and the ink limit together,

    ‖G (colour of inks - wanted colour)‖²  +  w (K - K_wanted)²

over Oklab. Black generation sets K_wanted, from the colour's lightness and chroma or as a profile has it. Its weight w is so
small that, of all inks that give the colour exactly, those with K nearest to K_wanted are found: the colour is missed by less
than ΔE00 0.1. For a colour out of gamut the first term alone matters, and the metric G makes a turn of hue, or a
tint of a gray, cost more than as much lightness. Both terms change smoothly with the wanted colour, and so do the inks: no
banding.

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
_CHROMA_COST: Final = 3.0
"""How many times a tint costs the same change of lightness, where the colour is a gray: black stays neutral."""
_GRAY: Final = 0.04
"""Oklab chroma up to which a colour counts rather as gray, whose hue is of no account."""
_LEAST_LIGHT: Final = 1e-7
"""XYZ below which no print lies; the mixing space's slope has no end at 0."""


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
class Printable:
    """What C, M, Y and K can print: `colours` (N^4, 3) XYZ (D50) over N even steps of each ink, C running fastest.

    `n`: the factor in whose space neighbours mix. `limit`: most ink together, 1 = one full ink. Without black ink K stays 0.
    """

    colours: Floats
    n: float
    limit: float
    has_black: bool = True

    @property
    def steps(self) -> int:
        """N."""
        return int(np.rint(len(self.colours) ** 0.25))


def wanted_black(xyz: Floats, black: BlackGeneration, *, darkest: Floats) -> Floats:
    """K (m,), 0 to 1, that black generation asks for in colours (m, 3); `darkest` (3,) is the darkest print.

    Least ink asks for as much as the colour can take.
    """
    if black is BlackGeneration.LEAST_INK:
        return np.ones(len(xyz))
    onset, target = _ONSETS[black], oklab_from_xyz(xyz)
    depth = np.clip((onset.lightness - target[:, 0]) / (onset.lightness - oklab_from_xyz(darkest)[0]), 0, 1)
    chroma = np.hypot(target[:, 1], target[:, 2])
    return np.asarray(depth**onset.power / (1 + (chroma / onset.chroma) ** 2))


def nearest_inks(xyz: Floats, printable: Printable, *, black: Floats, start: Floats | None = None) -> Floats:
    """C, M, Y, K (m, 4) for colours (m, 3), with K near `black` (m,) as far as that leaves the colour what it is.

    `start`: inks (m, 4) within the limit from which to seek; without them, some of each.
    """
    upper = np.array([1.0, 1.0, 1.0, 1.0 if printable.has_black else 0.0])
    most = min(printable.limit, float(upper.sum()))
    if start is None:
        start = np.tile(np.minimum(upper, most / 4) / 2, (len(xyz), 1))
    target = oklab_from_xyz(xyz)
    colours = to_mixing_space(np.maximum(printable.colours, _LEAST_LIGHT), printable.n)
    printer = Bounded(colours, printable.steps, printable.n, upper, most)
    return descend_all((target * UNITS, _metric(target), black), start, printer)


def _metric(target: Floats) -> Floats:
    """G (m, 3, 3): the unit matrix, with a and b stretched by `_CHROMA_COST` in grays, and in strong colours by `_HUE_COST` along
    the hue's tangent; in between some of each."""
    chroma = np.hypot(target[:, 1], target[:, 2])
    tangent = np.stack([-target[:, 2], target[:, 1]], axis=-1) / np.maximum(chroma, 1e-12)[:, None]
    strong = (chroma**2 / (chroma**2 + _GRAY**2))[:, None, None]
    metric = np.tile(np.eye(3), (len(target), 1, 1))
    metric[:, 1:, 1:] += (_CHROMA_COST - 1) * (1 - strong) * np.eye(2)
    metric[:, 1:, 1:] += (_HUE_COST - 1) * strong * tangent[:, :, None] * tangent[:, None, :]
    return metric
