"""The colour of an artwork's pixel values: RGB in its own profile, or sRGB without one, to XYZ."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour import littlecms, srgb
from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import lab_from_xyz
from filmhand.rules import Intent

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]

_SAME: Final = 0.5
"""ΔE00 up to which a profile says the same of a value as sRGB: profiles that are sRGB differ by rounding and by their black."""


def xyz_of_source(rgb: Bytes, *, profile: bytes | None, intent: Intent, bpc: bool) -> Floats:
    """XYZ (..., 3), D50, relative to the source's white (Y 1), of RGB (..., 3), 0 to 255.

    With `bpc`, a source profile's black becomes 0; sRGB's is 0 already, and all intents are one to it.
    UnusableProfileError (littlecms.py) if the profile cannot say a colour; opening an artwork makes sure that it can.
    """
    if profile is None:
        return srgb.xyz_from_srgb(rgb)
    way = littlecms.Way((profile, littlecms.Space.RGB), (littlecms.XYZ_PROFILE, littlecms.Space.XYZ), intent, bpc=bpc)
    return way(rgb / 255.0)


def value_in(rgb: Bytes, *, source: bytes | None, to: bytes | None) -> Bytes:
    """The values (n, 3) that in a profile (None: sRGB) show the colour of values (n, 3) in another, relative to its white."""
    if source == to:
        return rgb
    if source is None:
        return np.rint(value_of_srgb(rgb, profile=to)).astype(np.uint8)
    profile = littlecms.SRGB_PROFILE if to is None else to
    way = littlecms.Way((source, littlecms.Space.RGB), (profile, littlecms.Space.RGB), Intent.RELATIVE, bpc=False)
    return np.rint(255 * np.clip(way(rgb / 255.0), 0, 1)).astype(np.uint8)


def value_of_srgb(rgb: Bytes, *, profile: bytes | None) -> Floats:
    """The values (n, 3), 0 to 255 and to a hundredth, that in a source profile (None: sRGB) stand for sRGB (n, 3): the same where
    it says the same of them."""
    if profile is None:
        return rgb.astype(np.float64)
    wanted = srgb.xyz_from_srgb(rgb)
    own = xyz_of_source(rgb, profile=profile, intent=Intent.RELATIVE, bpc=False)
    way = littlecms.Way((littlecms.XYZ_PROFILE, littlecms.Space.XYZ), (profile, littlecms.Space.RGB), Intent.RELATIVE, bpc=False)
    converted = np.round(255 * np.clip(way(wanted), 0, 1), 2)
    same = difference(lab_from_xyz(own), lab_from_xyz(wanted)) <= _SAME
    return np.where(same[:, None], rgb, converted)
