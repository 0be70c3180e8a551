"""Lightness, chroma and hue in which gamuts are described and colours moved: Oklab's, in units of about one CIELAB unit each.

Oklab keeps a hue where it is when its chroma changes. Along the constant-hue loci of Hung and Berns 1995 ("Determination of
constant hue loci for a CRT gamut", Color Research and Application 20, 285 to 295; table III) its hue turns by 3.9° (root mean
square; 13° at worst, in blue), CIELAB's by 8.8° (32° in blue), IPT's by 3.7°; Oklab is what inks are sought in, too.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.oklab import UNITS, oklab_from_xyz, xyz_from_oklab

Floats = NDArray[np.float64]

TURN: Final = 360.0


def lab_from_xyz(xyz: Floats) -> Floats:
    """Oklab (..., 3) of XYZ (..., 3), D50, Y 1 = white; L is 0 to 100, a and b are on the same scale."""
    return np.asarray(oklab_from_xyz(xyz) * UNITS)


def lch_from_xyz(xyz: Floats) -> Floats:
    """Lightness (0 to 100), chroma and hue (degrees, 0 to 360) (..., 3) of XYZ (..., 3), D50, Y 1 = white."""
    L, a, b = np.moveaxis(lab_from_xyz(xyz), -1, 0)
    return np.stack([L, np.hypot(a, b), np.degrees(np.arctan2(b, a)) % TURN], axis=-1)


def xyz_from_lch(lch: Floats) -> Floats:
    """XYZ (..., 3) of lightness, chroma and hue (..., 3)."""
    L, C, h = np.moveaxis(lch, -1, 0)
    lab = np.stack([L, C * np.cos(np.radians(h)), C * np.sin(np.radians(h))], axis=-1)
    return xyz_from_oklab(lab / UNITS)
