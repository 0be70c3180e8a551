"""Oklab (Ottosson 2020, "A perceptual color space for image processing"; W3C CSS Color Module Level 4, section 9.2).

Its hues stay put when a colour is made duller, blues above all, where CIELAB's turn to purple: nearest colours are sought in it.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.adaptation import bradford
from filmhand.colour.cielab import D50_WHITE

Floats = NDArray[np.float64]

# CSS Color 4 section 18, sample code: D65 as used there, and the two matrices of XYZ to Oklab.
_D65: Final = np.array([0.3127 / 0.3290, 1.0, (1 - 0.3127 - 0.3290) / 0.3290])
_CONES_D65: Final = np.array(
    [
        [0.8190224379967030, 0.3619062600528904, -0.1288737815209879],
        [0.0329836539323885, 0.9292868615863434, 0.0361446663506424],
        [0.0481771893596242, 0.2642395317527308, 0.6335478284694309],
    ]
)
CONES: Final[Floats] = _CONES_D65 @ bradford(D50_WHITE, to=_D65)
"""3×3: cone responses of XYZ (D50)."""
OPPONENT: Final[Floats] = np.array(
    [
        [0.2104542683093140, 0.7936177747023054, -0.0040720430116193],
        [1.9779985324311684, -2.4285922420485799, 0.4505937096174110],
        [0.0259040424655478, 0.7827717124575296, -0.8086757549230774],
    ]
)
"""3×3: L, a, b of the cube roots of the cone responses."""
UNITS: Final = np.array([100.0, 200.0, 200.0])
"""Oklab L, a, b in units of about one CIELAB unit each; its a and b are about half as long as its L (our own, no source)."""
_FROM_OPPONENT: Final = np.linalg.inv(OPPONENT)
_FROM_CONES: Final = np.linalg.inv(CONES)


def oklab_from_xyz(xyz: Floats) -> Floats:
    """L, a, b (..., 3) of XYZ (..., 3), D50, Y 1 = white; L is 0 to 1."""
    return np.asarray(np.cbrt(xyz @ CONES.T) @ OPPONENT.T)


def xyz_from_oklab(oklab: Floats) -> Floats:
    """XYZ (..., 3), D50, Y 1 = white, of L, a, b (..., 3)."""
    return np.asarray((oklab @ _FROM_OPPONENT.T) ** 3 @ _FROM_CONES.T)
