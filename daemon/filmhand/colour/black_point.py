"""Black point compensation (ISO 18619:2015; Adobe Systems 2006, "Adobe Systems' Implementation of Black Point Compensation").

XYZ is scaled and shifted, each channel for itself, so that white stays and the one black becomes the other.
"""

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.cielab import D50_WHITE, lab_from_xyz, xyz_from_lab

Floats = NDArray[np.float64]


def compensated(xyz: Floats, *, black: Floats, to: Floats) -> Floats:
    """Colours (..., 3) with the XYZ `black` moved to the XYZ `to`; relative to white, Y 1."""
    return np.asarray(D50_WHITE - (D50_WHITE - xyz) * ((D50_WHITE - to) / (D50_WHITE - black)))


def neutral(xyz: Floats) -> Floats:
    """The gray (3,) as light as a black (3,): ISO 18619 takes a black point's a* and b* as 0, its L* as 50 at most."""
    lightness = min(float(lab_from_xyz(xyz)[0]), 50.0)
    return xyz_from_lab(np.array([lightness, 0.0, 0.0]))
