"""The colour of an artwork's pixel values: RGB in its own profile, or sRGB without one, to XYZ."""

import numpy as np
from numpy.typing import NDArray

from filmhand.colour import littlecms, srgb
from filmhand.rules import Intent

Floats = NDArray[np.float64]


def xyz_of_source(rgb: NDArray[np.uint8], *, profile: bytes | None, intent: Intent, bpc: bool) -> Floats:
    """XYZ (..., 3), D50, relative to the source's white (Y 1), of RGB (..., 3), 0 to 255.

    With `bpc`, a source profile's black becomes 0; sRGB's is 0 already, and all intents are one to it.
    UnusableProfileError (littlecms.py) if the profile cannot say a colour; opening an artwork makes sure that it can.
    """
    if profile is None:
        return srgb.xyz_from_srgb(rgb)
    way = littlecms.Way((profile, littlecms.Space.RGB), (littlecms.XYZ_PROFILE, littlecms.Space.XYZ), intent, bpc=bpc)
    return way(rgb / 255.0)
