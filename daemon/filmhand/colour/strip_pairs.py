"""A control strip read twice: patches of both readings side by side, and what noise alone would make of them."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.cielab import D50_WHITE, lab_from_xyz
from filmhand.colour.measured.readings import Readings
from filmhand.errors import SettingsError

Floats = NDArray[np.float64]

_DIGITS: Final = 4
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

    @property
    def colour_limit(self) -> float:
        """Deviations by which noise alone may move a colour: the distribution is chi's of three degrees of freedom."""
        return _chi3_quantile(_FALSE_ALARMS / self._questions)

    @property
    def tone_limit(self) -> float:
        """Deviations by which noise alone may move a tone: one coordinate, either way."""
        return NormalDist().inv_cdf(1 - _FALSE_ALARMS / self._questions / 2)

    @property
    def _questions(self) -> int:
        """Every colour is asked about, and every tone and mixture once more."""
        return 2 * len(self.amounts)


def pairs(reference: Readings, *, now: Readings, inks: Sequence[str], noise: tuple[float, float]) -> Pairs:
    """Both readings side by side, repeats averaged.

    `noise`: standard deviation in each of L*, a*, b* of one patch's reading, then and now. SettingsError where the readings have
    no film white in common, or not a single inked patch.
    """
    known, then, then_counts = _averaged(reference, inks)
    printed, seen, now_counts = _averaged(now, inks)
    places = {tuple(row): place for place, row in enumerate(known.tolist())}
    shared = [(places[tuple(row)], place) for place, row in enumerate(printed.tolist()) if tuple(row) in places]
    if not shared or printed[shared[0][1]].any() or len(shared) == 1:
        raise SettingsError("The two readings have no film white or no inked patch in common", next_step=_NEXT_STEP)
    first, second = (np.array(rows) for rows in zip(*shared, strict=True))
    white_then, white_now = then[first[0]], seen[second[0]]
    lab_then, lab_now = (lab_from_xyz(xyz / xyz[0] * D50_WHITE) for xyz in (then[first], seen[second]))
    share = (lab_then[:, 0] + 16) / 116  # of the white's own noise: by CIE 15 L* + 16 goes with the cube root of Y / Yn
    share[0] = 0
    variances = [
        sd**2 * (1 / counts + share**2 / counts[0])
        for sd, counts in zip(noise, (then_counts[first], now_counts[second]), strict=True)
    ]
    return Pairs(
        tuple(inks),
        printed[second],
        lab_then,
        lab_now,
        lab_from_xyz(white_then),
        lab_from_xyz(white_now),
        np.sqrt(sum(variances)),
    )


def _averaged(readings: Readings, inks: Sequence[str]) -> tuple[Floats, Floats, Floats]:
    """Distinct amounts (m, k) in rising order, their mean XYZ (m, 3), and how often each was read (m,)."""
    missing = [ink for ink in inks if ink not in readings.inks]
    if missing:
        raise SettingsError(f"The readings say nothing of the ink {', '.join(missing)}", next_step=_NEXT_STEP)
    columns = [readings.inks.index(ink) for ink in inks]
    amounts, which = np.unique(np.round(readings.amounts[:, columns], _DIGITS), axis=0, return_inverse=True)
    totals = np.zeros((len(amounts), 3))
    np.add.at(totals, which.ravel(), readings.xyz)
    counts = np.bincount(which.ravel()).astype(np.float64)
    return amounts, totals / counts[:, None], counts


def _chi3_quantile(chance: float) -> float:
    """What the length of three standard normal numbers passes with this chance, by halving."""
    low, high = 0.0, 20.0
    while high - low > _FINE:
        middle = (low + high) / 2
        beyond = math.erfc(middle / math.sqrt(2)) + math.sqrt(2 / math.pi) * middle * math.exp(-(middle**2) / 2)
        low, high = (middle, high) if beyond > chance else (low, middle)
    return high
