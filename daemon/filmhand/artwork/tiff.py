"""TIFF, by tifffile: stripped or tiled, interleaved or planar, 1 to 16 bits, gray, palette, RGB, CMYK, either kind of alpha."""

from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
import tifffile
from numpy.typing import NDArray

from filmhand import units
from filmhand.artwork.limit import too_many_pixels
from filmhand.artwork.model import Kind
from filmhand.artwork.picture import DEEP_BITS, deep_note, open_picture, pages_note
from filmhand.artwork.pillow import DECODING_ERRORS
from filmhand.artwork.refusal import CANNOT_BE_DECODED, damaged, unreadable
from filmhand.artwork.source import Alpha, Colour, Source, extra_note, rounded_to_8, stated_ppi
from filmhand.preflight.finding import Finding
from filmhand.rules import Printer, Rule
from filmhand.words import Phrase

# Tag numbers and values: TIFF 6.0 sections 8, 16, 18, 20; ICC profile: ICC.1:2010 Annex B.4.
_ORIENTATION, _INK_SET, _X_RESOLUTION, _Y_RESOLUTION, _RESOLUTION_UNIT, _ICC = 274, 332, 282, 283, 296, 34675
_PHOTOMETRIC: Final = {0: Colour.GRAY, 1: Colour.GRAY, 2: Colour.RGB, 3: Colour.RGB, 5: Colour.CMYK, 6: Colour.RGB}
_WHITE_IS_ZERO, _PALETTE, _YCBCR = 0, 3, 6
_UNSIGNED, _FLOAT = 1, 3
_ASSOCIATED, _STRAIGHT = 1, 2
_JPEG = 7
_FAX: Final = (2, 3, 4)
_CMYK_INK_SET = 1
_MOST_EXTRAS = 8  # saved selections beside the alpha; more are separations, or a bomb
_THUMBNAIL = 1  # NewSubfileType bit 0: a reduced copy of another picture in the file

_FLOATING: Final = Phrase("This TIFF holds floating-point colours, which have no fixed white and black.")
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
            if page.compression in _FAX or (page.photometric == _YCBCR and page.compression != _JPEG):
                return open_picture(path, Kind.TIFF, rule=rule, printer=printer)
            form = _form_of(page)
            return form if isinstance(form, Finding) else _source_of(page, form, len(pages))
    except (*DECODING_ERRORS, RuntimeError, ZeroDivisionError):  # imagecodecs raises kinds of RuntimeError; tiles may be 0 wide
        return damaged(Kind.TIFF.value, CANNOT_BE_DECODED)


def _form_of(page: Any) -> _Form | Finding:
    """What a page's samples mean, or the finding that they cannot be printed."""
    colour = _PHOTOMETRIC.get(int(page.photometric))
    formats = {int(value) for value in np.atleast_1d(page.sampleformat)}
    bits = {int(value) for value in np.atleast_1d(page.bitspersample)}
    ink_set = int(page.tags[_INK_SET].value) if _INK_SET in page.tags else _CMYK_INK_SET
    if _FLOAT in formats:
        return unreadable(_FLOATING(), _ADVICE())
    if colour is None:
        return unreadable(_STRANGE(what=f"photometric {int(page.photometric)}"), _ADVICE())
    if formats != {_UNSIGNED} or len(bits) != 1 or not bits <= {1, 2, 4, 8, 16}:
        return unreadable(_STRANGE(what=f"{', '.join(map(str, sorted(bits)))} bits"), _ADVICE())
    if colour is Colour.CMYK and (ink_set != _CMYK_INK_SET or page.samplesperpixel < colour.channels):
        return unreadable(_INKS(count=page.samplesperpixel), _ADVICE())
    own = 1 if page.photometric == _PALETTE else colour.channels
    if page.samplesperpixel > own + _MOST_EXTRAS:
        return unreadable(_INKS(count=page.samplesperpixel), _ADVICE())
    return _with_alpha(colour, own, page.samplesperpixel, tuple(int(extra) for extra in page.extrasamples))


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


def _source_of(page: Any, form: _Form, pages: int) -> Source:
    samples = np.asarray(page.asarray())
    if page.planarconfig == tifffile.PLANARCONFIG.SEPARATE and page.samplesperpixel > 1:
        samples = np.moveaxis(samples, 0, -1)
    samples = samples.reshape(page.imagelength, page.imagewidth, page.samplesperpixel)
    bits = int(np.atleast_1d(page.bitspersample)[0])
    palette = _palette(page) if page.photometric == _PALETTE else None

    def rows(top: int, bottom: int) -> NDArray[np.uint8]:
        band = samples[top:bottom]
        own = band[..., :1] if palette is not None else band[..., : form.colour.channels]
        # 1-bit samples come as truth values, which would choose instead of count.
        colours = palette.take(own[..., 0].astype(np.intp), 0, mode="clip") if palette is not None else _as_8_bits(own, bits)
        if page.photometric == _WHITE_IS_ZERO:
            colours = 255 - colours
        if form.alpha_at is None:
            return colours
        return np.concatenate((colours, _as_8_bits(band[..., form.alpha_at : form.alpha_at + 1], bits)), axis=-1)

    findings = [pages_note(pages)] if pages > 1 else []
    findings += [deep_note()] if bits == DEEP_BITS else []
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


def _as_8_bits(values: NDArray[Any], bits: int) -> NDArray[np.uint8]:
    if bits == DEEP_BITS:
        return rounded_to_8(values)
    narrow = values.astype(np.uint8, copy=False)
    return narrow * np.uint8(255 // (2**bits - 1))


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
