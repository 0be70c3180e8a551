"""ICC profiles of artwork, embedded or assumed: which one counts, and gray and CMYK values through it to sRGB, by LittleCMS."""

import io
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageCms

from filmhand.artwork.odd_profile import PROFILE, oddness_of
from filmhand.artwork.source import Colour
from filmhand.preflight.finding import Finding, Severity
from filmhand.words import Phrase, Words

# ICC.1:2010 section 7.2: the header's fields, profile classes and colour spaces.
_HEADER: Final = 128
_MARK, _CLASS, _SPACE = slice(36, 40), slice(12, 16), slice(16, 20)
_DEVICES: Final = (b"scnr", b"mntr", b"prtr", b"spac")
_COLOUR_OF: Final = {b"GRAY": Colour.GRAY, b"RGB ": Colour.RGB, b"CMYK": Colour.CMYK}
_MODE_OF: Final = {Colour.GRAY: "L", Colour.RGB: "RGB", Colour.CMYK: "CMYK"}

_DAMAGED: Final = Phrase("The colour profile inside the file is damaged; the colours are read as {instead}.")
_WRONG: Final = Phrase("The colour profile inside the file is not made for {colour} pictures; the colours are read as {instead}.")
_PLAIN_CMYK: Final = Phrase("plain CMYK")
_ADVICE: Final = Phrase("If the colours on the proof look wrong, export it again with the colour profile sRGB.")
_NONE: Final = Phrase("The file does not say which colour space its colours are in; they are read as sRGB.")
_ASSUMED: Final = Phrase(
    "The file names no colour profile; its {colour} colours are read through {profile}, which the shop assumes for such files."
)
_NO_CMYK: Final = Phrase("The file holds CMYK colours without a profile, so what they should look like is a guess.")
_NO_CMYK_ADVICE: Final = Phrase("Please send it in RGB with the profile sRGB, or embed the CMYK profile that it was made for.")


class Fault(StrEnum):
    """Why an embedded profile is of no use."""

    DAMAGED = "damaged"
    WRONG = "wrong class or colour space"


@dataclass(frozen=True)
class Profile:
    """An ICC profile that somebody named, and the name."""

    name: str
    icc: bytes


@dataclass(frozen=True)
class Assumed:
    """The profiles that RGB (and gray) and CMYK values are read through where a file names none; known to work for these."""

    rgb: Profile | None = None
    cmyk: Profile | None = None

    def of(self, colour: Colour) -> Profile | None:
        """That for values of a kind."""
        return self.cmyk if colour is Colour.CMYK else self.rgb


NOTHING_ASSUMED: Final = Assumed()


@dataclass(frozen=True)
class Reading:
    """How pixels are to be read: through `profile` if there is one, else as sRGB; and what is to be said about it."""

    profile: bytes | None
    profile_colour: Colour | None = None
    findings: tuple[Finding, ...] = ()

    @property
    def kept(self) -> bytes | None:
        """The profile that the RGB pixels stay in; None where they became sRGB."""
        return self.profile if self.profile_colour is Colour.RGB else None


def reading_of(profile: bytes | None, colour: Colour, *, says_srgb: bool, assumed: Assumed = NOTHING_ASSUMED) -> Reading:
    """Choose how pixels of a colour kind are read. Gray pixels may carry an RGB profile; then R = G = B in its space."""
    if colour is Colour.LAB:
        return Reading(None)  # CIELAB needs none: it says what is seen.
    instead = None if says_srgb and colour is not Colour.CMYK else assumed.of(colour)
    findings: tuple[Finding, ...] = ()
    if profile is not None:
        found = _colour_of(profile)
        if isinstance(found, Colour) and (found is colour or (found is Colour.RGB and colour is Colour.GRAY)):
            odd = oddness_of(profile) if found is Colour.RGB else None
            return Reading(profile, found, () if odd is None else (odd,))
        findings = (_useless(found, colour, instead),)
    if instead is not None:
        note = Finding(PROFILE, Severity.NOTE, _ASSUMED(colour=colour.value, profile=instead.name))
        return Reading(instead.icc, Colour.CMYK if colour is Colour.CMYK else Colour.RGB, findings or (note,))
    if colour is Colour.CMYK:
        findings += (Finding(PROFILE, Severity.WARN, _NO_CMYK(), _NO_CMYK_ADVICE()),)
    elif not findings and not says_srgb:
        findings = (Finding(PROFILE, Severity.NOTE, _NONE()),)
    return Reading(None, None, findings)


def _useless(found: Colour | Fault, colour: Colour, instead: Profile | None) -> Finding:
    """The finding that an embedded profile is of no use, and what takes its place."""
    plain: Words | str = _PLAIN_CMYK() if colour is Colour.CMYK else "sRGB"
    form = _DAMAGED if found is Fault.DAMAGED else _WRONG
    message = form(colour=colour.value, instead=plain if instead is None else instead.name)
    return Finding(PROFILE, Severity.WARN, message, _ADVICE())


def _colour_of(profile: bytes) -> Colour | Fault:
    if len(profile) < _HEADER or profile[_MARK] != b"acsp" or int.from_bytes(profile[:4], "big") > len(profile):
        return Fault.DAMAGED
    colour = _COLOUR_OF.get(profile[_SPACE])
    if colour is None or profile[_CLASS] not in _DEVICES:
        return Fault.WRONG
    try:
        _transform(profile, colour)
    except ImageCms.PyCMSError:
        return Fault.DAMAGED
    return colour


def gray_to_srgb(profile: bytes) -> NDArray[np.uint8]:
    """What each gray value, 0 to 255, is in sRGB through a gray profile: 256×3 uint8."""
    ramp = Image.fromarray(np.arange(256, dtype=np.uint8)[None, :])
    table: NDArray[np.uint8] = np.asarray(ImageCms.applyTransform(ramp, _transform(profile, Colour.GRAY)))[0]
    return table


def cmyk_to_srgb(profile: bytes | None) -> Callable[[NDArray[np.uint8]], NDArray[np.uint8]]:
    """A function from CMYK (h×w×4 uint8, 255 = full ink) to sRGB (h×w×3 uint8); without a profile the plain one."""
    if profile is None:
        return _plain_cmyk
    transform = _transform(profile, Colour.CMYK)

    def through_profile(inks: NDArray[np.uint8]) -> NDArray[np.uint8]:
        height, width = inks.shape[:2]
        band = Image.frombuffer("CMYK", (width, height), np.ascontiguousarray(inks), "raw", "CMYK", 0, 1)
        return np.asarray(ImageCms.applyTransform(band, transform), dtype=np.uint8)

    return through_profile


def lab_to_srgb() -> Callable[[NDArray[np.uint8]], NDArray[np.uint8]]:
    """A function from CIELAB of D50 (h×w×3 uint8: L* 255 = 100, a* and b* 128 = neutral) to sRGB (h×w×3 uint8)."""
    lab, srgb = ImageCms.createProfile("LAB", 0), ImageCms.createProfile("sRGB")
    intent, exact = ImageCms.Intent.RELATIVE_COLORIMETRIC, ImageCms.Flags.NOOPTIMIZE  # a table would be off by up to 15 levels
    transform = ImageCms.buildTransform(lab, srgb, "LAB", "RGB", intent, exact)

    def convert(values: NDArray[np.uint8]) -> NDArray[np.uint8]:
        height, width = values.shape[:2]
        signed = values ^ np.array((0, 128, 128), np.uint8)  # Pillow takes a* and b* as two's complement.
        band = Image.frombuffer("LAB", (width, height), np.ascontiguousarray(signed), "raw", "LAB", 0, 1)
        return np.asarray(ImageCms.applyTransform(band, transform), dtype=np.uint8)

    return convert


def rgb_to_srgb(picture: Image.Image, profile: bytes) -> Image.Image:
    """An RGB picture in a profile's space as sRGB, for showing."""
    converted = ImageCms.applyTransform(picture, _transform(profile, Colour.RGB))
    assert converted is not None  # None only where it is asked to convert in place
    return converted


def _transform(profile: bytes, colour: Colour) -> ImageCms.ImageCmsTransform:
    """Relative colorimetric with black point compensation: whites meet, and the darkest stays the darkest."""
    return ImageCms.buildTransform(
        ImageCms.getOpenProfile(io.BytesIO(profile)),
        ImageCms.createProfile("sRGB"),
        _MODE_OF[colour],
        "RGB",
        ImageCms.Intent.RELATIVE_COLORIMETRIC,
        ImageCms.Flags.BLACKPOINTCOMPENSATION,
    )


def _plain_cmyk(inks: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """R = (1 - C)(1 - K) and so on: no printing process at all, only the names of the inks (common practice, no source)."""
    left = 255 - inks.astype(np.uint16)
    product = left[..., :3] * left[..., 3:]
    return ((product + 127) // 255).astype(np.uint8)
