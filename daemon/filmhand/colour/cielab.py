"""CIELAB (ISO/CIE 11664-4) over the white of the ICC profile connection space (ICC.1:2010 section 7.2.16).

That white, X 0.9642 Y 1 Z 0.8249, is the profile connection space's own; it is not quite CIE illuminant D50.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

D50_WHITE: Final[Floats] = np.array([0.9642, 1.0, 0.8249])
"""XYZ of the ICC profile connection space's white."""
D50_WHITE.setflags(write=False)

# CIE 15:2018 section 8.2.1: exact forms of 0.008856 and 903.3.
_EPSILON: Final = 216 / 24389
_KAPPA: Final = 24389 / 27


def lab_from_xyz(xyz: Floats) -> Floats:
    """CIELAB (..., 3) of XYZ (..., 3), Y 1 = white. L* is 0 to 100 for colours no lighter than white."""
    ratio = xyz / D50_WHITE
    f = np.where(ratio > _EPSILON, np.cbrt(ratio), (_KAPPA * ratio + 16) / 116)
    fx, fy, fz = f[..., 0], f[..., 1], f[..., 2]
    return np.stack([116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)], axis=-1)


def xyz_from_lab(lab: Floats) -> Floats:
    """XYZ (..., 3), Y 1 = white, of CIELAB (..., 3)."""
    fy = (lab[..., 0] + 16) / 116
    f = np.stack([fy + lab[..., 1] / 500, fy, fy - lab[..., 2] / 200], axis=-1)
    cube = f**3
    ratio = np.where(cube > _EPSILON, cube, (116 * f - 16) / _KAPPA)
    return np.asarray(ratio * D50_WHITE)
