"""RGB profiles that can be used and are odd all the same: a printer's, a scanner's, one screen's own, or with strange tones."""

import io
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageCms

from filmhand.preflight.finding import Finding, Severity
from filmhand.words import Phrase

PROFILE: Final = "profile"

_CLASS: Final = slice(12, 16)  # ICC.1:2010 section 7.2.5
_LEAST_GAMMA, _MOST_GAMMA = 1.7, 2.7
"""Working spaces lie between 1.8 and 2.4 (L* about 2.4): common practice, no source."""
_NEUTRAL: Final = 6
"""Most that a mid gray's channels differ in sRGB where a profile's R = G = B is gray: working spaces 1, screens' own more."""
_GRAYS: Final = (64, 128, 192)

_PRINTER: Final = Phrase(
    "The colour profile inside the file is that of a printer, not of a picture; it was followed all the same."
)
_SCANNER: Final = Phrase("The colour profile inside the file is that of a scanner or camera; it was followed all the same.")
_SCREEN: Final = Phrase("The colour profile inside the file is that of one particular screen; it was followed all the same.")
_TONES: Final = Phrase(
    "The colour profile inside the file spreads tones unusually (gamma {gamma:.1f}), so fine shades may show steps."
)
_ADVICE: Final = Phrase(
    "If the colours on the proof look wrong, please convert the artwork to the colour profile sRGB and send it again."
)


def oddness_of(profile: bytes) -> Finding | None:
    """The finding that an RGB profile, known to work, is no working space for pictures; None where it is one."""
    if profile[_CLASS] == b"prtr":
        return Finding(PROFILE, Severity.WARN, _PRINTER(), _ADVICE())
    if profile[_CLASS] == b"scnr":
        return Finding(PROFILE, Severity.NOTE, _SCANNER(), _ADVICE())
    grays = _grays_in_srgb(profile)
    if int(np.ptp(grays, axis=1).max()) > _NEUTRAL:
        return Finding(PROFILE, Severity.WARN, _SCREEN(), _ADVICE())
    gamma = _gamma(float(grays[1].mean()))
    if not _LEAST_GAMMA <= gamma <= _MOST_GAMMA:
        return Finding(PROFILE, Severity.NOTE, _TONES(gamma=gamma), _ADVICE())
    return None


def _grays_in_srgb(profile: bytes) -> NDArray[np.int16]:
    """Three grays of a profile's space in sRGB, 3×3: gray by channel."""
    ramp = Image.fromarray(np.array(_GRAYS, np.uint8)[None, :, None].repeat(3, axis=2))
    opened, srgb = ImageCms.getOpenProfile(io.BytesIO(profile)), ImageCms.createProfile("sRGB")
    transform = ImageCms.buildTransform(opened, srgb, "RGB", "RGB", ImageCms.Intent.RELATIVE_COLORIMETRIC)
    shown: NDArray[np.int16] = np.asarray(ImageCms.applyTransform(ramp, transform), np.int16)
    return np.asarray(shown[0])


def _gamma(srgb: float) -> float:
    """The exponent that makes the middle value, 128/255, the light that this sRGB value is (IEC 61966-2-1)."""
    value = srgb / 255
    light = value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4  # noqa: PLR2004
    return float(np.log(max(light, 1e-6)) / np.log(128 / 255))
