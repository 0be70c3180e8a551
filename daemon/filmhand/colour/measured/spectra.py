"""Reflectances to tristimulus values under D50 for the 2° observer (method of ASTM E308 and ISO 13655)."""

from typing import Final

import numpy as np

from filmhand.colour.cielab import D50_WHITE
from filmhand.colour.measured import standard_observer as observer
from filmhand.colour.measured.readings import Floats, Spectra
from filmhand.colour.measured.scale import as_fractions
from filmhand.colour.measured.unusable import UnusableChartError

_VISIBLE: Final = (410, 680)
"""What must have been measured, in nm: less than 0.7 % of X, of Y and of Z comes from beyond either end. (ISO 13655 wants 400 to
700, from memory.)"""
_WIDEST_STEP: Final = 20
"""nm; ASTM E308 has no table for a wider one."""
_POINTS: Final = 4
"""ASTM E2022: what lies between measured wavelengths is the cubic through the nearest four."""


def xyz_of_spectra(spectra: Spectra) -> Floats:
    """XYZ (m, 3), D50, 2° observer, Y 1 = perfect white diffuser, of reflectances (m, w), 1 = perfect white diffuser.

    At least four wavelengths. Beyond the measured ends the last value stands (ASTM E308 section 7.3). The perfect diffuser
    comes out as the white of the ICC profile connection space, so that it is L* 100, a* 0, b* 0 everywhere in the program; the
    tables alone would say 0.96420, 1, 0.82512.
    """
    return np.asarray(spectra.reflectances @ (_resampling(spectra.wavelengths).T @ _weights()))


def even_spectra(wavelengths: Floats, values: Floats) -> Spectra:
    """Spectra of values (m, w), percent or fractions, at wavelengths (w,) in nm, in any order.

    UnusableChartError where the wavelengths are not evenly spaced, lie more than 20 nm apart, or leave out part of 410 to 680 nm.
    """
    order = np.argsort(wavelengths)
    wavelengths = wavelengths[order]
    steps = np.diff(wavelengths)
    problem = None
    if len(steps) < _POINTS or np.ptp(steps) > 0.01 * steps.mean() or steps.max() > _WIDEST_STEP:
        problem = f"not evenly spaced, or more than {_WIDEST_STEP} nm apart"
    elif wavelengths[0] > _VISIBLE[0] or wavelengths[-1] < _VISIBLE[1]:
        problem = f"{wavelengths[0]:g} to {wavelengths[-1]:g} nm, which leaves out part of {_VISIBLE[0]} to {_VISIBLE[1]} nm"
    if problem is not None:
        raise UnusableChartError(f"The wavelengths are {problem}", next_step="Export every 10 nm from 400 to 700 nm or further")
    return Spectra(wavelengths, as_fractions(values[:, order]))


def _weights() -> Floats:
    """(81, 3): what each of the observer's wavelengths adds to X, Y, Z; columns sum to the white."""
    weights = observer.D50[:, None] * np.stack([observer.X_BAR, observer.Y_BAR, observer.Z_BAR], axis=1)
    return np.asarray(weights / weights.sum(axis=0) * D50_WHITE)


def _resampling(measured: Floats) -> Floats:
    """(81, w): takes values at the measured wavelengths (w,) to the observer's."""
    wanted = np.clip(observer.WAVELENGTHS, measured[0], measured[-1])
    first = np.clip(np.searchsorted(measured, wanted) - _POINTS // 2, 0, len(measured) - _POINTS)
    near = first[:, None] + np.arange(_POINTS)
    matrix = np.zeros((len(wanted), len(measured)))
    for j in range(_POINTS):
        others = [i for i in range(_POINTS) if i != j]
        ratio = (wanted[:, None] - measured[near[:, others]]) / (measured[near[:, j]][:, None] - measured[near[:, others]])
        matrix[np.arange(len(wanted)), near[:, j]] = ratio.prod(axis=1)
    return matrix
