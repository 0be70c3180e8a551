"""PNG, JPEG, WebP, AVIF, GIF and BMP (and the TIFFs that tifffile does not read), by Pillow."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any, Final

import imagecodecs
import numpy as np
from numpy.typing import NDArray
from PIL import Image

from filmhand.artwork.avif import facts_of_avif
from filmhand.artwork.limit import most_pixels, too_many_pixels
from filmhand.artwork.mapped import mapped
from filmhand.artwork.model import Kind
from filmhand.artwork.pillow import DECODING_ERRORS, pixel_limit
from filmhand.artwork.refusal import CANNOT_BE_DECODED, CANNOT_BE_READ, damaged, unreadable
from filmhand.artwork.source import Alpha, Colour, Source, rounded_to_8, stated_ppi
from filmhand.preflight.finding import Finding, Severity
from filmhand.rules import Printer, Rule
from filmhand.words import Phrase

_ORIENTATION, _COLOUR_SPACE, _X_RESOLUTION, _EXIF_IFD = 0x0112, 0xA001, 0x011A, 0x8769  # EXIF 2.32
_GRAY_MODES: Final = ("1", "L", "LA")

PAGES: Final = "pages"
DEPTH: Final = "depth"
DEEP_BITS: Final = 16
_STRANGE: Final = Phrase("This {kind} holds its colours in a way that cannot be printed ({mode}).")
_FRAMES: Final = Phrase("The file holds {count} pictures; only the first is printed.")
_FRAMES_ADVICE: Final = Phrase("If another one was meant, please send that one alone.")
_DEEP: Final = Phrase("The picture has {bits} bits a channel; it is printed with 8, which is more than film can show.")

PALETTE: Final = "palette"
_PALETTE: Final = Phrase("The picture takes its colours from a list of at most {count}, so that fine shades may show steps.")
_MOST_LISTED: Final = 256

BEYOND: Final = "profile"
_BEYOND: Final = Phrase(
    "The picture was made for screens that show more colours or more light than usual (HDR, wide gamut); they are read as sRGB."
)
_BEYOND_ADVICE: Final = Phrase("If the colours on the proof look dull, please export it again with the colour profile sRGB.")


def open_picture(path: Path, kind: Kind, *, rule: Rule, printer: Printer) -> Source | Finding:
    """Decode a picture (its first one), or the finding that says why it cannot be."""
    with pixel_limit(None):  # Opening reads the header only; our own limit below speaks in mm.
        try:
            image = Image.open(path, formats=(kind.value.upper(),))
        except DECODING_ERRORS:
            return damaged(kind.value, CANNOT_BE_READ)
    with image, pixel_limit(most_pixels(rule, printer)):
        too_large = too_many_pixels(image.width, image.height, rule=rule, printer=printer)
        if too_large is not None:
            return too_large
        if kind is Kind.PNG and _png_depth(path) == DEEP_BITS:
            return _deep_png(path, image)
        if kind is Kind.WEBP and getattr(image, "n_frames", 1) == 1:
            return _still_webp(path, image)
        try:
            image.load()
        except DECODING_ERRORS:
            return damaged(kind.value, CANNOT_BE_DECODED)
        source = _source_of(image, kind)
        return _avif(path, source) if kind is Kind.AVIF and isinstance(source, Source) else source


def _source_of(image: Image.Image, kind: Kind) -> Source | Finding:
    has_alpha = image.mode in ("LA", "PA", "RGBA") or "transparency" in image.info
    if image.mode == "CMYK":
        mode, colour = "CMYK", Colour.CMYK
    elif image.mode in _GRAY_MODES:
        mode, colour = "LA" if has_alpha else "L", Colour.GRAY
    elif image.mode in ("P", "PA", "RGB", "RGBA", "YCbCr"):
        mode, colour = "RGBA" if has_alpha else "RGB", Colour.RGB
    else:
        return unreadable(_STRANGE(kind=kind.value, mode=image.mode))
    still = image.copy() if getattr(image, "n_frames", 1) > 1 else image  # Several pictures are read again from the closed file.
    is_plain_cmyk_jpeg = kind is Kind.JPEG and mode == "CMYK" and "adobe" not in image.info

    def rows(top: int, bottom: int) -> NDArray[np.uint8]:
        band = still.crop((0, top, still.width, bottom))
        values = np.asarray(band if band.mode == mode else band.convert(mode)).reshape(bottom - top, still.width, -1)
        # Pillow turns every CMYK JPEG over; only programs that write the Adobe marker store them turned (libjpeg.txt, "Special
        # color spaces").
        return 255 - values if is_plain_cmyk_jpeg else values

    alpha = Alpha.STRAIGHT if has_alpha else Alpha.NONE
    notes = (palette_note(),) if image.mode in ("P", "PA") else ()
    return _with_facts(Source(image.width, image.height, colour, alpha, rows, findings=notes), image, kind)


def _deep_png(path: Path, image: Image.Image) -> Source | Finding:
    """A PNG of 16 bits a channel: Pillow would cut the lower 8 off, here they are rounded."""
    try:
        deep = imagecodecs.png_decode(path.read_bytes())
    except (RuntimeError, ValueError):
        return damaged(Kind.PNG.value, CANNOT_BE_DECODED)
    source = _in_memory(deep.reshape(image.height, image.width, -1), rounded_to_8)
    return _with_facts(replace(source, findings=(deep_note(),)), image, Kind.PNG)


def _still_webp(path: Path, image: Image.Image) -> Source | Finding:
    """A WebP of one picture, decoded straight into one array: Pillow's way, made for animations, holds it four times over."""
    try:
        values = imagecodecs.webp_decode(path.read_bytes())
    except (RuntimeError, ValueError):
        return damaged(Kind.WEBP.value, CANNOT_BE_DECODED)
    return _with_facts(_in_memory(values, lambda rows: rows), image, Kind.WEBP)


def _avif(path: Path, source: Source) -> Source:
    """The source with what an AVIF says of its depth and colours, where no profile says it."""
    with mapped(path) as data:
        facts = facts_of_avif(data)
    findings = list(source.findings)
    if facts.bits > 8:  # noqa: PLR2004 -- what a byte holds
        findings.append(deep_note(facts.bits))
    if source.profile is None and facts.is_beyond_srgb:
        findings.append(Finding(BEYOND, Severity.WARN, _BEYOND(), _BEYOND_ADVICE()))
    says_what = facts.says_srgb or facts.is_beyond_srgb  # what names other colours is read as sRGB too, not as the shop assumes
    return replace(source, says_srgb=source.says_srgb or says_what, findings=tuple(findings))


def _in_memory(values: NDArray[Any], to_8_bits: Callable[[NDArray[Any]], NDArray[np.uint8]]) -> Source:
    """A source of h×w×n decoded values: gray or RGB, with or without alpha, by n."""
    height, width, channels = values.shape
    return Source(
        width,
        height,
        Colour.GRAY if channels in (1, 2) else Colour.RGB,
        Alpha.STRAIGHT if channels in (2, 4) else Alpha.NONE,
        lambda top, bottom: to_8_bits(values[top:bottom]),
    )


def deep_note(bits: int = DEEP_BITS) -> Finding:
    """The note that so many bits a channel were rounded to 8."""
    return Finding(DEPTH, Severity.NOTE, _DEEP(bits=bits))


def palette_note() -> Finding:
    """The note that the picture's colours come from a short list."""
    return Finding(PALETTE, Severity.NOTE, _PALETTE(count=_MOST_LISTED))


def pages_note(count: int) -> Finding:
    """The finding that only the first of several pictures is printed."""
    return Finding(PAGES, Severity.WARN, _FRAMES(count=count), _FRAMES_ADVICE(), float(count), 1.0)


def _with_facts(source: Source, image: Image.Image, kind: Kind) -> Source:
    """The source with what the file says beside its pixels."""
    frames = 1 if kind is Kind.JPEG else getattr(image, "n_frames", 1)  # A JPEG's further pictures are thumbnails and depth maps.
    orientation, has_resolution, says_srgb = _exif_facts(image)
    across, down = image.info.get("dpi", (0, 0))
    invented = kind is Kind.JPEG and image.info.get("jfif_unit", 0) == 0 and not has_resolution  # Pillow then says 72.
    return replace(
        source,
        profile=image.info.get("icc_profile") or None,
        says_srgb=says_srgb or "srgb" in image.info,
        ppi=None if invented else stated_ppi(across, down),
        orientation=orientation,
        findings=(*source.findings, *([pages_note(frames)] if frames > 1 else [])),
    )


def _exif_facts(image: Image.Image) -> tuple[int, bool, bool]:
    """Orientation, whether a resolution is stated, whether sRGB is stated. A broken EXIF block says nothing."""
    try:
        exif = image.getexif()
        return (
            int(exif.get(_ORIENTATION, 1)),
            _X_RESOLUTION in exif,
            exif.get_ifd(_EXIF_IFD).get(_COLOUR_SPACE) == 1,
        )
    except DECODING_ERRORS:
        return 1, False, False


def _png_depth(path: Path) -> int:
    """Bits a channel, from the header chunk (ISO/IEC 15948 section 11.2.2)."""
    with path.open("rb") as file:
        return file.read(25)[-1]
