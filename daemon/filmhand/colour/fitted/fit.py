"""From a chart's readings to the ink model that explains them."""

from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import D50_WHITE, lab_from_xyz
from filmhand.colour.fitted.halftones import Halftones
from filmhand.colour.fitted.kriging import Kriging, likeliest
from filmhand.colour.fitted.model import FittedInks
from filmhand.colour.measured.readings import Readings, Spectra
from filmhand.colour.measured.repeats import averaged
from filmhand.colour.measured.spectra import xyz_of_spectra

Floats = NDArray[np.float64]

_FACTORS: Final = (1.0, 1.2, 1.4, 1.7, 2.0, 2.5, 3.0, 4.0, 6.0)
_COMMON_FACTOR: Final = 1.7
"""Where no mixture of halftones says better: common for fine halftones (common practice, no source)."""
_ENOUGH: Final = 250
"""Patches from which the factor is judged."""
_STRAY_SIGMAS: Final = 6.0
_STRAY_DELTA_E: Final = 3.0
"""A patch further than both from what all others say of it is taken for misread: far beyond what scatter alone does."""
_MOST_STRAYS: Final = 40
"""One patch of so many may be a stray; with more, the chart itself is in question, and its accuracy says so."""


@dataclass(frozen=True)
class Stray:
    """A patch that contradicts all others, left out of the model. `delta_e`: by how much (ΔE00)."""

    name: str
    delta_e: float


@dataclass(frozen=True, eq=False)
class Fit:
    """`used`: the readings without strays."""

    model: FittedInks
    used: Readings
    strays: tuple[Stray, ...]

    @property
    def left_out(self) -> float:
        """How far, in CIELAB, a patch lies from the surface through all others: root of the mean square."""
        return float(np.sqrt(np.square(self.model.rest.left_out()).sum(axis=1).mean()))


def fit(readings: Readings) -> Fit:
    """The model of a chart; repeats are averaged. ValueError where film white or a full ink is not among its patches."""
    count = len(readings.inks)
    for name, amounts in zip(("film white", *readings.inks), np.eye(count + 1, count, -1), strict=True):
        if not (readings.amounts == amounts).all(axis=1).any():
            raise ValueError(f"a chart without {name} by itself, in full")
    readings = averaged(readings).readings
    if readings.spectra is not None:
        # which of the two explains a chart better depends on the chart
        return min(_fit(readings), _fit(replace(readings, spectra=None)), key=lambda one: one.left_out)
    return _fit(readings)


def _fit(readings: Readings) -> Fit:
    used, strays = readings, list[Stray]()
    n = _likeliest_factor(used)
    model = fitted(used, n=n)
    for _ in range(len(readings.names) // _MOST_STRAYS):
        row, stray = _furthest(model, used)
        if stray is None:
            break
        strays.append(stray)
        used = chosen(used, np.arange(len(used.names)) != row)
        model = fitted(used, n=n)  # one at a time: a stray draws its neighbours along
    return Fit(model, used, tuple(strays))


def fitted(readings: Readings, *, n: float, known: tuple[float, Floats] | None = None) -> FittedInks:
    """The model of Yule and Nielsen's factor n through all readings. `known`: the rest's reach and noises, else judged."""
    white = readings.xyz[paper(readings)]
    reflectances, observer = _channels(readings, white)
    halftones = Halftones.of(readings.amounts, reflectances, n=n)
    missed = _missed(readings, halftones, observer)
    return FittedInks(
        readings.inks, white, halftones, observer, Kriging.through(halftones.tones(readings.amounts), missed, known=known)
    )


def _missed(readings: Readings, halftones: Halftones, observer: Floats) -> Floats:
    """CIELAB (m, 3), relative to film white, of the readings less that of the halftones."""
    seen = lab_from_xyz(readings.xyz / readings.xyz[paper(readings)] * D50_WHITE)
    return seen - lab_from_xyz(halftones(readings.amounts) @ observer)


def _likeliest_factor(readings: Readings) -> float:
    """The factor n under which the readings are the likeliest, halftones and surface together."""
    reflectances, observer = _channels(readings, readings.xyz[paper(readings)])

    def likelihood(n: float) -> float:
        halftones = Halftones.of(readings.amounts, reflectances, n=n)
        return likeliest(halftones.tones(readings.amounts), _missed(readings, halftones, observer), enough=_ENOUGH)[0]

    mixtures = ((readings.amounts > 0).sum(axis=1) > 1) & ((readings.amounts > 0) & (readings.amounts < 1)).any(axis=1)
    return max(_FACTORS, key=likelihood) if mixtures.any() else _COMMON_FACTOR


def paper(readings: Readings) -> int:
    """The row of the patch without ink."""
    return int(np.flatnonzero(readings.amounts.max(axis=1) == 0)[0])


def chosen(readings: Readings, rows: NDArray[np.bool_] | NDArray[np.intp]) -> Readings:
    """Some of the readings: a mask (m,) or row numbers."""
    kept = np.arange(len(readings.names))[rows]
    spectra = readings.spectra and Spectra(readings.spectra.wavelengths, readings.spectra.reflectances[kept])
    return replace(
        readings,
        names=tuple(readings.names[row] for row in kept),
        amounts=readings.amounts[kept],
        xyz=readings.xyz[kept],
        spectra=spectra,
    )


def _channels(readings: Readings, white: Floats) -> tuple[Floats, Floats]:
    """Reflectances (m, q) relative to film white, and the way (q, 3) from them to XYZ relative to film white (D50)."""
    if readings.spectra is None:
        return readings.xyz / white, np.diag(D50_WHITE)
    spectra = readings.spectra
    bare = np.maximum(spectra.reflectances[paper(readings)], 1e-3)
    weights = xyz_of_spectra(Spectra(spectra.wavelengths, np.eye(len(spectra.wavelengths)))) * bare[:, None]
    return spectra.reflectances / bare, weights / weights.sum(axis=0) * D50_WHITE


def _furthest(model: FittedInks, readings: Readings) -> tuple[int, Stray | None]:
    """The patch that the surface through all others misses by most, if by far. Paper and single inks are the halftones' own and
    not judged."""
    mixtures = (readings.amounts > 0).sum(axis=1) > 1
    if not mixtures.any():
        return -1, None
    off = model.rest.left_out()
    scatter = 1.4826 * np.median(np.abs(off[mixtures]), axis=0)  # the standard deviation, of a normal distribution
    sigmas = np.where(mixtures, (np.abs(off) / np.maximum(scatter, 1e-6)).max(axis=1), 0)
    seen = lab_from_xyz(readings.xyz / model.white * D50_WHITE)
    delta_e = difference(seen - off, seen)
    row = int(np.where(sigmas > _STRAY_SIGMAS, delta_e, 0).argmax())
    if sigmas[row] <= _STRAY_SIGMAS or delta_e[row] <= _STRAY_DELTA_E:
        return -1, None
    return row, Stray(readings.names[row], float(delta_e[row]))
