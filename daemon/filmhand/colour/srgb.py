"""sRGB (IEC 61966-2-1) to and from XYZ of the ICC profile connection space, adapted by Bradford's matrix."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.adaptation import bradford
from filmhand.colour.cielab import D50_WHITE

Floats = NDArray[np.float64]

# IEC 61966-2-1 equation 7 (four decimals, as the standard prints it); its white is the sum of its columns.
_TO_D65: Final = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
_KNEE: Final = 0.04045
_KNEE_LIGHT: Final = 0.0031308
TO_XYZ: Final[Floats] = bradford(_TO_D65.sum(axis=1), to=D50_WHITE) @ _TO_D65
"""3×3: XYZ (D50) of linear sRGB. White goes to the white of the connection space exactly."""
FROM_XYZ: Final[Floats] = np.asarray(np.linalg.inv(TO_XYZ), np.float64)
"""3×3: its inverse."""


def xyz_from_srgb(rgb: NDArray[np.uint8]) -> Floats:
    """XYZ (..., 3), D50, Y 1 = white, of sRGB values (..., 3), 0 to 255."""
    return np.asarray(decode(rgb / 255.0) @ TO_XYZ.T)


def srgb_from_xyz(xyz: Floats) -> NDArray[np.uint8]:
    """The nearest sRGB values (..., 3) of XYZ (..., 3); what sRGB cannot show is clipped channel by channel."""
    return np.rint(255 * encode(np.clip(xyz @ FROM_XYZ.T, 0, 1))).astype(np.uint8)


def xyz_of_hex(colour: str) -> Floats:
    """XYZ (3,) of a colour written "#rrggbb"."""
    return xyz_from_srgb(np.frombuffer(bytes.fromhex(colour.removeprefix("#")), np.uint8))


def decode(values: Floats) -> Floats:
    """Linear light of encoded values, both 0 to 1 (IEC 61966-2-1 equations 5 and 6)."""
    return np.where(values <= _KNEE, values / 12.92, ((values + 0.055) / 1.055) ** 2.4)


def encode(light: Floats) -> Floats:
    """Encoded values of linear light, both 0 to 1 (IEC 61966-2-1 equations 9 and 10)."""
    return np.where(light <= _KNEE_LIGHT, 12.92 * light, 1.055 * np.maximum(light, 0) ** (1 / 2.4) - 0.055)
