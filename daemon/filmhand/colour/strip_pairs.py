"""A control strip read twice: patches of both readings side by side, and what noise alone would make of them."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from statistics import NormalDist
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.cielab import D50_WHITE, lab_from_xyz
from filmhand.colour.measured.readings import Readings
from filmhand.colour.measured.repeats import Averaged, averaged
from filmhand.errors import SettingsError
from filmhand.rules import WHITE

Floats = NDArray[np.float64]

TYPICAL_NOISE: Final = 0.3
"""Standard deviation of a patch's reading in each of L*, a*, b*, print and instrument together: common practice, no source."""
_ENOUGH_REPEATS: Final = 8
_CLOSE: Final = 0.006
"""Amounts that a measuring program rounded to whole percent are still one patch."""
_FEWEST: Final = 2
_FINE: Final = 1e-6
_FALSE_ALARMS: Final = 0.02
"""How often noise alone may look like movement anywhere on the strip."""
_NEXT_STEP: Final = "Measure the whole control strip, film white and full inks among it, and name both readings again"


@dataclass(frozen=True, eq=False)
class Pairs:
    """Patches that both readings have. `amounts` (m, k), sent, columns as `inks`; the first row is film white.

    `then`, `now`: CIELAB (m, 3) relative to the film white of their own reading. `white_then`, `white_now`: that white (3,), over
    the perfect diffuser. `deviation` (m,): what noise alone does to the difference of the two, standard deviation in each
    coordinate; the first is film white's.
    """

    inks: tuple[str, ...]
    amounts: Floats
    then: Floats
    now: Floats
    white_then: Floats
    white_now: Floats
    deviation: Floats

    @cached_property
    def colour_limit(self) -> float:
        """Deviations by which noise alone may move a colour: the distribution is chi's of three degrees of freedom."""
        return _chi3_quantile(_FALSE_ALARMS / self._questions)

    @cached_property
    def tone_limit(self) -> float:
        """Deviations by which noise alone may move a tone: one coordinate, either way."""
        return NormalDist().inv_cdf(1 - _FALSE_ALARMS / self._questions / 2)

    @property
    def _questions(self) -> int:
        """Every colour is asked about, and every tone and mixture once more."""
        return 2 * len(self.amounts)


def pairs(reference: Readings, *, now: Readings, inks: Sequence[str], noise: tuple[float | None, float | None]) -> Pairs:
    """Both readings side by side, repeats averaged, outliers among them left out; only patches on full white.

    `noise`: standard deviation in each of L*, a*, b* of one patch's reading, then and now; None: as the repeats have it, or
    `TYPICAL_NOISE` where there are too few. SettingsError where the readings have no film white in common, or no inked patch.
    """
    then, seen = (averaged(on_full_white(readings, inks=inks)) for readings in (reference, now))
    apart = np.abs(seen.readings.amounts[:, None] - then.readings.amounts[None]).max(axis=2)
    second = np.flatnonzero(apart.min(axis=1) <= _CLOSE)
    second = second[np.lexsort(seen.readings.amounts[second].T[::-1])]
    amounts, first = seen.readings.amounts[second], apart[second].argmin(axis=1)
    if len(second) < _FEWEST or amounts[0].any():
        raise SettingsError("The two readings have no film white or no inked patch in common", next_step=_NEXT_STEP)
    xyz_then, xyz_now = then.readings.xyz[first], seen.readings.xyz[second]
    lab_then, lab_now = (lab_from_xyz(xyz / xyz[0] * D50_WHITE) for xyz in (xyz_then, xyz_now))
    share = (lab_then[:, 0] + 16) / 116  # of the white's own noise: by CIE 15 L* + 16 goes with the cube root of Y / Yn
    share[0] = 0
    variances = np.zeros(len(second))
    for given, reading, counts in zip(noise, (then, seen), (then.counts[first], seen.counts[second]), strict=True):
        variances += (_noise(reading) if given is None else given) ** 2 * (1 / counts + share**2 / counts[0])
    whites = lab_from_xyz(xyz_then[0]), lab_from_xyz(xyz_now[0])
    return Pairs(tuple(inks), amounts, lab_then, lab_now, *whites, np.sqrt(variances))


def on_full_white(readings: Readings, *, inks: Sequence[str]) -> Readings:
    """The patches of these inks alone, columns as `inks`, on full white. SettingsError where the readings lack an ink."""
    missing = [ink for ink in inks if ink not in readings.inks]
    if missing:
        raise SettingsError(f"The readings say nothing of the ink {', '.join(missing)}", next_step=_NEXT_STEP)
    columns = [readings.inks.index(ink) for ink in inks]
    usual = np.array([float(ink == WHITE) for ink in readings.inks])
    off = np.abs(readings.amounts - usual) > _CLOSE
    off[:, columns] = False
    rows = np.flatnonzero(~off.any(axis=1))
    names = tuple(readings.names[row] for row in rows)
    return Readings(tuple(inks), names, readings.amounts[rows][:, columns], readings.xyz[rows])


def _noise(reading: Averaged) -> float:
    repeats = int((reading.counts - 1).sum())
    return TYPICAL_NOISE if reading.noise_lab is None or repeats < _ENOUGH_REPEATS else reading.noise_lab


def _chi3_quantile(chance: float) -> float:
    """What the length of three standard normal numbers passes with this chance, by halving."""
    low, high = 0.0, 20.0
    while high - low > _FINE:
        middle = (low + high) / 2
        beyond = math.erfc(middle / math.sqrt(2)) + math.sqrt(2 / math.pi) * middle * math.exp(-(middle**2) / 2)
        low, high = (middle, high) if beyond > chance else (low, middle)
    return high
