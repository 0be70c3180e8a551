"""Whether colours go with the inks they are said to be printed with, or would go better read backwards or from another start."""

from typing import Final

import numpy as np

from filmhand.colour.measured.readings import Floats, Readings

_DARKEST: Final = 0.002
_LEAST_GAIN: Final = 0.5
"""Another order is believed if it leaves less than this share of what the order as given leaves unexplained. On published sets of
offset printing (the nine of Debian's icc-profiles-free) the best other leaves four times as much, or more."""
_LEAST_EXPLAINED: Final = 0.5
"""Those sets have 93 % explained, or more."""
_PATCHES_A_COEFFICIENT: Final = 5
"""With fewer patches chance explains too much."""


def order_problem(readings: Readings) -> str | None:
    """What is wrong, in words; None where the order is right as far as can be told.

    Inks add up in density, roughly (Beer and Lambert): log XYZ is explained linearly by amounts, as given, backwards, and begun
    at each other patch. A chart in which the same wedge repeats, or with few patches, cannot be told from itself.
    """
    count, k = readings.amounts.shape
    if count < _PATCHES_A_COEFFICIENT * (k + 1):
        return None
    density = np.log(np.maximum(readings.xyz, _DARKEST))
    density -= density.mean(axis=0)
    basis = np.linalg.qr(np.column_stack([np.ones(count), readings.amounts]))[0]
    forwards, backwards = _unexplained(density, basis), _unexplained(density[::-1], basis)
    given = forwards[0]
    if backwards.min() < _LEAST_GAIN * min(given, forwards.min()):
        return "The colours go with the inks only if read backwards, as from a sheet measured upside down"
    if forwards.min() < _LEAST_GAIN * given:
        start = readings.names[int(np.argmin(forwards))]
        return f"The colours go with the inks only if the measuring began at patch {start}"
    return None if given < 1 - _LEAST_EXPLAINED else "The colours do not go with the inks"


def _unexplained(density: Floats, basis: Floats) -> Floats:
    """Share (m,) of the variance of (m, 3) left by the basis (m, k), if the rows are moved on by 0 to m - 1 places."""
    shares = [np.sum((basis.T @ np.roll(density, places, axis=0)) ** 2) for places in range(len(density))]
    return np.asarray(1 - np.array(shares) / np.sum(density**2))
