"""Black point compensation (ISO 18619:2015; Adobe Systems 2006, "Adobe Systems' Implementation of Black Point Compensation").

XYZ is scaled and shifted, each channel for itself, so that white stays and the one black becomes the other.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.cielab import D50_WHITE, lab_from_xyz, xyz_from_lab

Floats = NDArray[np.float64]

BLACK_GARMENTS_L: Final = 18.0
"""L* up to which a near-gray garment is sold as black: common practice, no source."""
_NEAR_GRAY_C: Final = 8.0
_ROUNDING: Final = 1e-6


def compensated(xyz: Floats, *, black: Floats, to: Floats) -> Floats:
    """Colours (..., 3) with the XYZ `black` moved to the XYZ `to`; relative to white, Y 1."""
    return np.asarray(D50_WHITE - (D50_WHITE - xyz) * ((D50_WHITE - to) / (D50_WHITE - black)))


def neutral(xyz: Floats) -> Floats:
    """The gray (3,) as light as a black (3,): ISO 18619 takes a black point's a* and b* as 0, its L* as 50 at most."""
    lightness = min(float(lab_from_xyz(xyz)[0]), 50.0)
    return xyz_from_lab(np.array([lightness, 0.0, 0.0]))


def stands_for_black(garment: Floats, *, darkest: float = 0.0) -> bool:
    """Whether a garment (CIELAB) can show source black bare: near gray, and sold as black or no lighter than `darkest` (L*)."""
    L, a, b = garment
    return bool(max(BLACK_GARMENTS_L, darkest) >= L and np.hypot(a, b) <= _NEAR_GRAY_C)


def nearest_towards_black(lab: Floats, garment: Floats) -> Floats:
    """For CIELAB colours (..., 3), the nearest on the way from black to the garment's CIELAB (3,)."""
    along = np.clip(lab @ garment / max(float(garment @ garment), _ROUNDING), 0, 1)
    return np.asarray(along[..., None] * garment)
