"""TIFF, by tifffile: stripped or tiled, interleaved or planar, 1 to 16 bits or floating point, either kind of alpha."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import tifffile
from numpy.typing import NDArray

from filmhand import units
from filmhand.artwork.limit import too_many_pixels
from filmhand.artwork.model import Kind
from filmhand.artwork.picture import DEEP_BITS, DEPTH, deep_note, open_picture, pages_note, palette_note
from filmhand.artwork.pillow import DECODING_ERRORS
from filmhand.artwork.refusal import CANNOT_BE_DECODED, damaged, unreadable
from filmhand.artwork.source import Alpha, Colour, Source, extra_note, rounded_to_8, stated_ppi
from filmhand.preflight.finding import Finding, Severity
from filmhand.rules import Printer, Rule
from filmhand.words import Phrase

# Tag numbers and values: TIFF 6.0 sections 8, 16, 18, 20; ICC profile: ICC.1:2010 Annex B.4.
_ORIENTATION, _INK_SET, _X_RESOLUTION, _Y_RESOLUTION, _RESOLUTION_UNIT, _ICC = 274, 332, 282, 283, 296, 34675
_PHOTOMETRIC: Final = {
    **{0: Colour.GRAY, 1: Colour.GRAY, 2: Colour.RGB, 3: Colour.RGB, 5: Colour.CMYK, 6: Colour.RGB},
    **{8: Colour.LAB, 9: Colour.LAB},  # 9: TIFF Technical Note of 1995 ("ICCLab")
}
_WHITE_IS_ZERO, _PALETTE, _YCBCR, _CIELAB, _ICCLAB = 0, 3, 6, 8, 9
_UNSIGNED, _SIGNED, _FLOAT = 1, 2, 3
_LAB_BITS: Final = (8, 16)
_FLOAT_BITS: Final = (16, 32, 64)
_FLOAT_SLACK: Final = 0.01
"""So far beyond 0 and 1 is rounding or sharpening; further is light beyond white, which has no place in print."""
_ASSOCIATED, _STRAIGHT = 1, 2
_JPEG = 7
_FAX: Final = (2, 3, 4)
_CODINGS: Final = (1, 5, _JPEG, 8, 32946, 32773, 34925, 50000, *_FAX)
"""None, LZW, JPEG, Deflate (both numbers), PackBits, LZMA, Zstandard and fax: what drawing and photo programs write. The library
has decoders for dozens more, which a stranger could reach through this one tag."""
_CMYK_INK_SET = 1
_MOST_EXTRAS = 8  # saved selections beside the alpha; more are separations, or a bomb
_THUMBNAIL = 1  # NewSubfileType bit 0: a reduced copy of another picture in the file

_FLOATING: Final = Phrase("This TIFF holds floating-point colours beyond white or black, so it has no fixed white and black.")
_FLOAT_READ: Final = Phrase("The picture holds floating-point colours; they are read with 0 as black and 1 as white.")
_FLOAT_ADVICE: Final = Phrase(
    "If it looks too dark or too light on the proof, please send it as RGB with 8 or 16 bits a channel."
)
_INKS: Final = Phrase("This TIFF holds separations for {count} inks, not a picture.")
_STRANGE: Final = Phrase("This TIFF holds its colours in a way that cannot be printed ({what}).")
_ADVICE: Final = Phrase("Please send it as RGB with 8 or 16 bits a channel, or as a PNG.")


@dataclass(frozen=True)
class _Form:
    """How a page's samples are to be read. `alpha_at`: which sample is alpha, if any."""

    colour: Colour
    alpha: Alpha
    alpha_at: int | None
    has_unknown: bool


def open_tiff(path: Path, *, rule: Rule, printer: Printer) -> Source | Finding:
    """Decode a TIFF's first picture, or the finding that says why it cannot be."""
    try:
        with tifffile.TiffFile(path) as file:
            every: list[Any] = list(file.pages)
            pages = [page for page in every if not int(page.subfiletype) & _THUMBNAIL]
            page = pages[0] if pages else every[0]
            too_large = too_many_pixels(page.imagewidth, page.imagelength, rule=rule, printer=printer)
            if too_large is not None:
                return too_large
            if int(page.compression) not in _CODINGS:
                return unreadable(_STRANGE(what=f"compression {int(page.compression)}"), _ADVICE())
            if page.compression in _FAX or (page.photometric == _YCBCR and page.compression != _JPEG):
                return open_picture(path, Kind.TIFF, rule=rule, printer=printer)
            form = _form_of(page)
            return form if isinstance(form, Finding) else _source_of(page, form, len(pages))
    except (*DECODING_ERRORS, ZeroDivisionError):  # tiles may be 0 wide
        return damaged(Kind.TIFF.value, CANNOT_BE_DECODED)


def _form_of(page: Any) -> _Form | Finding:
    """What a page's samples mean, or the finding that they cannot be printed."""
    colour = _PHOTOMETRIC.get(int(page.photometric))
    formats = {int(value) for value in np.atleast_1d(page.sampleformat)}
    bits = {int(value) for value in np.atleast_1d(page.bitspersample)}
    ink_set = int(page.tags[_INK_SET].value) if _INK_SET in page.tags else _CMYK_INK_SET
    if colour is None:
        return unreadable(_STRANGE(what=f"photometric {int(page.photometric)}"), _ADVICE())
    if len(bits) != 1 or not _can_be_read(colour, formats, min(bits)):
        return unreadable(_STRANGE(what=f"{', '.join(map(str, sorted(bits)))} bits"), _ADVICE())
    if colour is Colour.CMYK and (ink_set != _CMYK_INK_SET or page.samplesperpixel < colour.channels):
        return unreadable(_INKS(count=page.samplesperpixel), _ADVICE())
    own = 1 if page.photometric == _PALETTE else colour.channels
    if page.samplesperpixel > own + _MOST_EXTRAS:
        return unreadable(_INKS(count=page.samplesperpixel), _ADVICE())
    return _with_alpha(colour, own, page.samplesperpixel, tuple(int(extra) for extra in page.extrasamples))


def _can_be_read(colour: Colour, formats: set[int], bits: int) -> bool:
    """Whether samples of these formats and so many bits are numbers that we know how to read."""
    if colour is Colour.LAB:
        return formats <= {_UNSIGNED, _SIGNED} and bits in _LAB_BITS
    if formats == {_FLOAT}:
        return bits in _FLOAT_BITS
    return formats == {_UNSIGNED} and bits in (1, 2, 4, 8, DEEP_BITS)


def _with_alpha(colour: Colour, own: int, samples: int, extras: tuple[int, ...]) -> _Form:
    """Which of the samples beyond the colour's own is alpha. One extra sample that the file does not name is taken for it."""
    if samples == own + 1 and not extras:
        return _Form(colour, Alpha.STRAIGHT, own, has_unknown=False)
    for place, extra in enumerate(extras[: samples - own]):
        if extra in (_ASSOCIATED, _STRAIGHT):
            return _Form(
                colour, Alpha.STRAIGHT if extra == _STRAIGHT else Alpha.ASSOCIATED, own + place, has_unknown=samples > own + 1
            )
    return _Form(colour, Alpha.NONE, None, has_unknown=samples > own)


def _source_of(page: Any, form: _Form, pages: int) -> Source | Finding:
    samples = np.asarray(page.asarray())
    if page.planarconfig == tifffile.PLANARCONFIG.SEPARATE and page.samplesperpixel > 1:
        samples = np.moveaxis(samples, 0, -1)
    samples = samples.reshape(page.imagelength, page.imagewidth, page.samplesperpixel)
    is_float = samples.dtype.kind == "f"
    if is_float and not _within_black_and_white(samples):
        return unreadable(_FLOATING(), _ADVICE())
    bits = int(np.atleast_1d(page.bitspersample)[0])
    to_8_bits = _to_8_bits(page, bits, is_float=is_float)
    palette = _palette(page) if page.photometric == _PALETTE else None

    def rows(top: int, bottom: int) -> NDArray[np.uint8]:
        band = samples[top:bottom]
        own = band[..., :1] if palette is not None else band[..., : form.colour.channels]
        # 1-bit samples come as truth values, which would choose instead of count.
        colours = palette.take(own[..., 0].astype(np.intp), 0, mode="clip") if palette is not None else to_8_bits(own)
        if page.photometric == _WHITE_IS_ZERO:
            colours = 255 - colours
        if form.alpha_at is None:
            return colours
        return np.concatenate((colours, _alpha_to_8_bits(band[..., form.alpha_at : form.alpha_at + 1], bits)), axis=-1)

    findings = [pages_note(pages)] if pages > 1 else []
    findings += [Finding(DEPTH, Severity.WARN, _FLOAT_READ(), _FLOAT_ADVICE())] if is_float else []
    findings += [deep_note()] if bits == DEEP_BITS and not is_float else []
    findings += [palette_note()] if palette is not None else []
    findings += [extra_note()] if form.has_unknown else []
    return Source(
        page.imagewidth,
        page.imagelength,
        form.colour,
        form.alpha,
        rows,
        profile=bytes(page.tags[_ICC].value) if _ICC in page.tags else None,
        ppi=_ppi(page),
        orientation=int(page.tags[_ORIENTATION].value) if _ORIENTATION in page.tags else 1,
        findings=tuple(findings),
    )


def _within_black_and_white(samples: NDArray[Any]) -> bool:
    """Whether floating-point samples lie between 0 and 1, all but rounding; a number that is none does not."""
    return bool(samples.min() >= -_FLOAT_SLACK and samples.max() <= 1 + _FLOAT_SLACK)


def _to_8_bits(page: Any, bits: int, *, is_float: bool) -> Callable[[NDArray[Any]], NDArray[np.uint8]]:
    """How samples of a page become bytes as `Source.rows` has them."""
    if is_float:
        return _of_float
    if page.photometric in (_CIELAB, _ICCLAB):
        return lambda values: _of_lab(values, bits, is_offset=page.photometric == _ICCLAB)
    return lambda values: _as_8_bits(values, bits)


def _alpha_to_8_bits(values: NDArray[Any], bits: int) -> NDArray[np.uint8]:
    """Alpha, which has the colours' format but never their meaning."""
    if values.dtype.kind == "f":
        return _of_float(values)
    return _as_8_bits(values.view(f"u{values.dtype.itemsize}") if values.dtype.kind == "i" else values, bits)


def _as_8_bits(values: NDArray[Any], bits: int) -> NDArray[np.uint8]:
    if bits == DEEP_BITS:
        return rounded_to_8(values)
    narrow: NDArray[np.uint8] = values.astype(np.uint8, copy=False)
    return narrow * np.uint8(255 // (2**bits - 1))


def _of_float(values: NDArray[Any]) -> NDArray[np.uint8]:
    levels: NDArray[np.float32] = np.rint(np.clip(values, 0, 1).astype(np.float32) * 255)
    return levels.astype(np.uint8)


def _of_lab(values: NDArray[Any], bits: int, *, is_offset: bool) -> NDArray[np.uint8]:
    """CIELAB as TIFF 6.0 section 23 stores it (a*, b* in two's complement, 16 bits in 1/256), or with a*, b* offset by half.

    With 16 bits L* 100 is 65535, or FF00 where a* and b* are offset (the older coding of ICC.1:2010 section 6.3.4.2).
    """
    if bits == DEEP_BITS:
        wide = values.view(np.uint16).astype(np.int32)
        wide[..., 1:] = wide[..., 1:] if is_offset else wide[..., 1:] + 0x8000 & 0xFFFF
        full = 0xFF00 if is_offset else 0xFFFF
        wide[..., 0] = (wide[..., 0] * 255 + full // 2) // full
        wide[..., 1:] = wide[..., 1:] + 128 >> 8
        return np.clip(wide, 0, 255).astype(np.uint8)
    narrow = values.view(np.uint8)
    turned: NDArray[np.uint8] = narrow ^ np.array((0, 128, 128), np.uint8)
    return narrow if is_offset else turned


def _palette(page: Any) -> NDArray[np.uint8]:
    """Colours of a palette, n×3. Its values have 16 bits (TIFF 6.0 section 5), but some writers fill only 8, as libtiff knows.

    Writers make 16 bits of 8 by a factor of 256 or of 257; the upper byte is right for both.
    """
    table = np.asarray(page.colormap, dtype=np.uint16).T
    return (table if table.max(initial=0) <= np.iinfo(np.uint8).max else table >> 8).astype(np.uint8)


def _ppi(page: Any) -> tuple[float, float] | None:
    """Pixels an inch, where the unit is one (TIFF 6.0 section 8: 2 inch, 3 centimetre)."""
    unit = int(page.tags[_RESOLUTION_UNIT].value) if _RESOLUTION_UNIT in page.tags else 2
    factor = {2: 1.0, 3: units.MM_PER_INCH / 10}.get(unit)
    if factor is None or _X_RESOLUTION not in page.tags or _Y_RESOLUTION not in page.tags:
        return None
    across, down = (page.tags[tag].value for tag in (_X_RESOLUTION, _Y_RESOLUTION))
    if not (across[1] and down[1]):
        return None
    return stated_ppi(factor * across[0] / across[1], factor * down[0] / down[1])
