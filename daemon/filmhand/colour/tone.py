"""Tone values: how much of the ground a printed tint covers, from densities, from light, and as ISO 20654 counts it.

Murray and Davies 1936 ("Halftone reproduction"), with Yule and Nielsen's factor of 1951; ISO 12647-1 uses the first on densities
or on a tristimulus value; ISO 20654:2017 gives spot colours a tone value that looks even.
"""

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.cielab import lab_from_xyz

Floats = NDArray[np.float64]


def density(light: Floats, *, ground: Floats | float = 1.0) -> Floats:
    """Density (...) of reflected light (...), 0 to 1, above that of `ground`: -log10 (ISO 5-3). No light at all is infinite."""
    with np.errstate(divide="ignore"):
        return np.asarray(-np.log10(np.maximum(light, 0) / ground))


def area(tint: Floats, *, solid: Floats | float, n: float = 1.0) -> Floats:
    """The share of the ground (...) under ink, from densities above the ground's of a tint (...) and of full ink.

    (1 - 10^(-Dt/n)) / (1 - 10^(-Ds/n)): Murray and Davies with `n` 1, Yule and Nielsen above. No ink at all is 0, full ink 1.
    """
    return np.asarray((1 - 10 ** (-np.asarray(tint) / n)) / (1 - 10 ** (-np.asarray(solid) / n)))


def tint_density(covered: Floats, *, solid: Floats | float, n: float = 1.0) -> Floats:
    """The inverse of `area`: density (...) above the ground's of a tint that covers a share (...) of it."""
    return np.asarray(-n * np.log10(1 - np.asarray(covered) * (1 - 10 ** (-np.asarray(solid) / n))))


def tone_value(light: Floats, *, ground: Floats | float, solid: Floats | float) -> Floats:
    """The share (...) under ink by light itself: reflectance, or the tristimulus value that the ink darkens most (ISO 12647-1).

    X serves for cyan, Y for magenta and black, Z for yellow. What it has above the nominal tone is the tone value increase.
    """
    return np.asarray((ground - light) / (np.asarray(ground) - solid))


def spot_tone_value(xyz: Floats, *, ground: Floats, solid: Floats) -> Floats:
    """The tone value (...), 0 to 1, of tints (..., 3) of one ink between ground and full ink, XYZ (D50, Y 1): ISO 20654:2017."""
    bare, full = _visual(ground), _visual(solid)
    return np.asarray(np.linalg.norm(_visual(xyz) - bare, axis=-1) / np.linalg.norm(full - bare, axis=-1))


def _visual(xyz: Floats) -> Floats:
    """116 f - 16 of X, Y and Z each (..., 3); CIELAB's L*, a* and b* are 116, 500 and 200 times differences of these f."""
    L, a, b = np.moveaxis(lab_from_xyz(xyz), -1, 0)
    return np.stack([L + a * (116 / 500), L, L - b * (116 / 200)], axis=-1)
