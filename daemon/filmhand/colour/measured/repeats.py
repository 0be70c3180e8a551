"""Repeated patches: averaged, outliers named and left out, the noise of one reading estimated."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import lab_from_xyz
from filmhand.colour.measured.readings import Floats, Readings, Spectra

_DECIMALS: Final = 4
"""Amounts that agree to 0.01 % are one patch printed again."""
_TO_SD: Final = 1.4826
"""A normal distribution's standard deviation, in median absolute deviations (1 / 0.6745)."""
_MADS: Final = 5.0
"""k: a good reading in some ten thousand is further off (own estimate, three normal coordinates)."""
_LEAST_OFF: Final = 0.5
"""ΔE00 that is never an outlier: good instruments differ as much from one placing to the next (common practice, no source)."""
_FEWEST: Final = 3
"""Readings of one patch among which the odd one can be told."""


@dataclass(frozen=True)
class Outlier:
    """A reading `de00` away from the middle of the `others` readings of the same inks.

    `is_left_out`: not where there are but two, of which nobody knows the wrong one; both are named, and their mean is kept.
    """

    name: str
    de00: float
    others: int
    is_left_out: bool


@dataclass(frozen=True, eq=False)
class Averaged:
    """A row a distinct patch, in the order of first appearance, named by its first reading that counts.

    `counts` (m,): readings that went into each row. `noise_lab`: standard deviation of L*, a* or b* of a single reading, pooled;
    `noise_de00`: mean ΔE00 of a single reading from the true colour. Both None where nothing repeats, or all repeats are alike to
    the last digit: those were copied, not measured.
    """

    readings: Readings
    counts: NDArray[np.int64]
    noise_lab: float | None
    noise_de00: float | None
    outliers: tuple[Outlier, ...]


def averaged(readings: Readings) -> Averaged:
    """Readings of the same amounts averaged, in light; readings beyond k median absolute deviations of all repeats left out."""
    groups = _groups(readings.amounts)
    lab = lab_from_xyz(readings.xyz)
    limit = _limit([_off_middle(lab[group]) for group in groups if len(group) > 1])
    outliers: list[Outlier] = []
    kept: list[NDArray[np.intp]] = []
    for group in groups:
        good, odd = _parted(group, lab=lab, limit=limit)
        kept.append(good)
        outliers += [Outlier(readings.names[row], off, len(group) - 1, row not in good) for row, off in odd]
    noise_lab, noise_de00 = _noise(lab, kept)
    return Averaged(_means(readings, kept), np.array([len(group) for group in kept]), noise_lab, noise_de00, tuple(outliers))


def _parted(group: NDArray[np.intp], *, lab: Floats, limit: float) -> tuple[NDArray[np.intp], list[tuple[int, float]]]:
    """The rows to average, and the odd ones with how far off they are: the worst first, and the middle sought anew after each."""
    odd: list[tuple[int, float]] = []
    while len(group) >= _FEWEST:
        off = _off_middle(lab[group])
        worst = int(off.argmax())
        if off[worst] <= limit:
            return group, odd
        odd.append((int(group[worst]), float(off[worst])))
        group = np.delete(group, worst)
    off = _off_middle(lab[group])
    return group, odd + [(int(row), float(far)) for row, far in zip(group, off, strict=True) if far > limit]


def _groups(amounts: Floats) -> list[NDArray[np.intp]]:
    """Rows of the same amounts, the groups by first appearance."""
    rows: dict[tuple[float, ...], list[int]] = {}
    for i, row in enumerate(np.round(amounts, _DECIMALS) + 0.0):
        rows.setdefault(tuple(row), []).append(i)
    return [np.array(group, dtype=np.intp) for group in rows.values()]


def _off_middle(lab: Floats) -> Floats:
    """ΔE00 (n,) of readings (n, 3) from their median, enlarged by √(n / (n - 1)), for the middle leans towards each of them."""
    n = len(lab)
    return np.asarray(difference(lab, np.median(lab, axis=0)) * np.sqrt(n / max(n - 1, 1)))


def _limit(off: Sequence[Floats]) -> float:
    """ΔE00 from the middle beyond which a reading is odd, from those of all groups."""
    if not off:
        return np.inf
    values = np.concatenate(off)
    middle = np.median(values)
    return max(_LEAST_OFF, float(middle + _MADS * _TO_SD * np.median(np.abs(values - middle))))


def _noise(lab: Floats, groups: Sequence[NDArray[np.intp]]) -> tuple[float | None, float | None]:
    """Of a single reading: the pooled standard deviation in Lab, and the mean ΔE00, which pairs of readings show √2 times."""
    repeated = [group for group in groups if len(group) > 1]
    squares = sum(float(((lab[group] - lab[group].mean(axis=0)) ** 2).sum()) for group in repeated)
    if squares == 0:
        return None, None
    freedom = 3 * sum(len(group) - 1 for group in repeated)
    before = np.concatenate([group[:-1] for group in repeated])
    after = np.concatenate([group[1:] for group in repeated])
    return float(np.sqrt(squares / freedom)), float(difference(lab[before], lab[after]).mean() / np.sqrt(2))


def _means(readings: Readings, groups: Sequence[NDArray[np.intp]]) -> Readings:
    first = [int(group[0]) for group in groups]
    xyz = np.array([readings.xyz[group].mean(axis=0) for group in groups])
    spectra = readings.spectra
    if spectra is not None:
        spectra = Spectra(spectra.wavelengths, np.array([spectra.reflectances[group].mean(axis=0) for group in groups]))
    return Readings(readings.inks, tuple(readings.names[i] for i in first), readings.amounts[first], xyz, spectra)
