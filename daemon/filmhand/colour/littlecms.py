"""LittleCMS in floating point, through imagecodecs: Pillow's door to it passes 8 bits a channel, too coarse for a table."""

from enum import StrEnum
from typing import Final

import imagecodecs
import numpy as np
from numpy.typing import NDArray

from filmhand.rules import Intent

Floats = NDArray[np.float64]


class Space(StrEnum):
    """What a profile's values are."""

    RGB = "rgb"
    CMYK = "cmyk"
    XYZ = "xyz"


XYZ_PROFILE: Final[bytes] = imagecodecs.cms_profile("xyz")
"""A profile whose values are XYZ of the profile connection space; its black point is 0."""

SRGB_PROFILE: Final[bytes] = imagecodecs.cms_profile("srgb")
"""sRGB, as LittleCMS writes it."""

UnusableProfileError = imagecodecs.CmsError
"""LittleCMS cannot read a profile, or cannot go this way through it."""

_INTENTS: Final = {
    Intent.PERCEPTUAL: imagecodecs.CMS.INTENT.PERCEPTUAL,
    Intent.RELATIVE: imagecodecs.CMS.INTENT.RELATIVE_COLORIMETRIC,
    Intent.SATURATION: imagecodecs.CMS.INTENT.SATURATION,
    Intent.ABSOLUTE: imagecodecs.CMS.INTENT.ABSOLUTE_COLORIMETRIC,
}


class Way:
    """From one profile's values to another's, by an intent, with or without black point compensation."""

    def __init__(self, source: tuple[bytes, Space], destination: tuple[bytes, Space], intent: Intent, *, bpc: bool) -> None:
        self._source, self._from = source
        self._destination, self._to = destination
        self._intent = _INTENTS[intent]
        flags = imagecodecs.CMS.FLAGS
        self._flags = flags.NOOPTIMIZE | flags.NOCACHE | (flags.BLACKPOINTCOMPENSATION if bpc else 0)

    def __call__(self, values: Floats) -> Floats:
        """Values (..., channels): RGB and XYZ on 1, CMYK on 1 = full ink. UnusableProfileError where there is no such way."""
        flat = np.ascontiguousarray(values, np.float64).reshape(1, -1, values.shape[-1])
        count = flat.shape[1]
        if count == 0:
            flat = np.zeros((1, 1, values.shape[-1]))  # newer versions of imagecodecs refuse to transform nothing
        result = imagecodecs.cms_transform(
            flat * 100 if self._from is Space.CMYK else flat,  # LittleCMS counts ink in percent
            self._source,
            self._destination,
            colorspace=self._from.value,
            outcolorspace=self._to.value,
            outdtype=np.float64,
            intent=self._intent,
            flags=self._flags,
        )
        scaled = (result / 100 if self._to is Space.CMYK else result)[:, :count]
        return np.asarray(scaled.reshape(*values.shape[:-1], scaled.shape[-1]))
