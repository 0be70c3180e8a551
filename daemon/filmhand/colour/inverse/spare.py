"""Least ink: a colour missed by no more than a tolerance, for the sake of what its inks cost.

Minimised is miss² + 2 f Σ price_i x_i, the miss in ΔE00. The factor f is sought for each colour, so that the miss just uses up
the tolerance, or less where a greater miss would save nothing worth while (Lagrange's multiplier: f rises with the tolerance).
As all colours give way by about as much, towards less ink, neighbours stay as far apart as they were.

Graininess: a single dot is seen in light tones by its contrast with the film. Each ink is made dearer there by that contrast's
cube, so that black is left to the deeper tones (our own, no source).
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.cielab import lab_from_xyz

Floats = NDArray[np.float64]

_GRAIN_PRICE: Final = 10.0
_LIGHT_L: Final = (50.0, 85.0)
"""L* up to which single dots are hidden among others, and from which they stand alone."""


def ink_prices(xyz: Floats, costs: Floats, contrasts: Floats, *, smooth_tones: float) -> Floats:
    """Price (m, k) of a full ink in colours (m, 3), XYZ, by inks' costs (k,), of mean 1, and dots' contrasts (k,), 0 to 1."""
    light = np.interp(lab_from_xyz(xyz)[:, 0], _LIGHT_L, (0.0, 1.0))
    return np.asarray(costs + smooth_tones * _GRAIN_PRICE * light[:, None] * contrasts**3)


def dot_contrasts(solids: Floats) -> Floats:
    """Contrast (k,), 0 to 1, of dots of full ink with colours (k, 3), XYZ: how much darker in L* than film white."""
    return np.asarray(1 - lab_from_xyz(solids)[:, 0] / 100)
