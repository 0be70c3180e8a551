"""PSD and PSB: the merged picture that is saved beside the layers, with its transparency."""

import struct
import zlib
from collections.abc import Callable
from pathlib import Path
from typing import Final

import imagecodecs
import numpy as np
from numpy.typing import NDArray

from filmhand.artwork.hole import Bytes
from filmhand.artwork.limit import too_many_pixels
from filmhand.artwork.mapped import mapped
from filmhand.artwork.model import Kind
from filmhand.artwork.picture import deep_note, palette_note
from filmhand.artwork.refusal import CANNOT_BE_DECODED, damaged, unreadable
from filmhand.artwork.source import Alpha, Colour, Source, extra_note, rounded_to_8, stated_ppi
from filmhand.artwork.whole_psd import RAW, RLE, ZIP_PREDICTED, PsdParts, parts_of, row_offsets
from filmhand.preflight.finding import Finding
from filmhand.rules import Printer, Rule
from filmhand.words import Phrase

# Adobe Photoshop File Formats Specification (2019): colour modes; image resource numbers.
_BITMAP, _GRAY, _INDEXED, _RGB, _CMYK, _MULTICHANNEL, _DUOTONE, _LAB = 0, 1, 2, 3, 4, 7, 8, 9
_COLOURS: Final = {
    **{_BITMAP: Colour.GRAY, _GRAY: Colour.GRAY, _DUOTONE: Colour.GRAY},
    **{_INDEXED: Colour.RGB, _RGB: Colour.RGB, _CMYK: Colour.CMYK, _LAB: Colour.LAB},
}
_RESOLUTION, _ICC, _CLEAR_INDEX, _VERSION = 1005, 1039, 1047, 1057
_BYTE, _WORD = 8, 16
_PALETTE_BYTES: Final = 768

_ROUNDING: Final = 3
_FEW: Final = 1e-4  # of all samples

_SAVE_MERGED: Final = Phrase(
    "Please save it again with “maximize compatibility” switched on, or export a PNG with a transparent background."
)
_NO_MERGED: Final = Phrase("The layered document holds no merged picture: it was saved without one.")
_STRANGE: Final = Phrase("This {kind} holds its colours in a way that cannot be printed ({what}).")
_ADVICE: Final = Phrase("Please save it in RGB with 8 bits a channel, or export a PNG with a transparent background.")
_CHANNELS: Final = Phrase("separate ink channels")
_BITS: Final = Phrase("{bits} bits a channel")


def open_psd(path: Path, *, rule: Rule, printer: Printer) -> Source | Finding:
    """A PSD's merged picture, or the finding that says why there is none. `fault_of_psd` has found it whole."""
    with mapped(path) as data:
        try:
            parts = parts_of(data)
            fault = too_many_pixels(parts.width_px, parts.height_px, rule=rule, printer=printer) or _fault_of(data, parts)
            return fault if fault is not None else _source_of(data, parts)
        except (RuntimeError, ValueError, IndexError, struct.error, zlib.error):
            return damaged(Kind.PSD.value, CANNOT_BE_DECODED)


def _fault_of(data: Bytes, parts: PsdParts) -> Finding | None:
    version = _resource(data, parts, _VERSION)
    if len(version) > 4 and not version[4]:  # noqa: PLR2004 -- "has real merged data", after the version
        return unreadable(_NO_MERGED(), _SAVE_MERGED())
    if parts.mode not in _COLOURS:
        return unreadable(_STRANGE(kind=Kind.PSD.value, what=_CHANNELS()), _ADVICE())
    if parts.bits != (1 if parts.mode == _BITMAP else parts.bits) or parts.bits not in (1, _BYTE, _WORD):
        return unreadable(_STRANGE(kind=Kind.PSD.value, what=_BITS(bits=parts.bits)), _ADVICE())
    if parts.channels < _own_channels(parts) or (parts.mode == _INDEXED and len(parts.palette) < _PALETTE_BYTES):
        return damaged(Kind.PSD.value, CANNOT_BE_DECODED)
    return None


def _own_channels(parts: PsdParts) -> int:
    return 1 if parts.mode == _INDEXED else _COLOURS[parts.mode].channels


def _source_of(data: Bytes, parts: PsdParts) -> Source:
    own = _own_channels(parts)
    has_alpha = parts.has_merged_alpha and parts.channels > own
    planes = _planes(data, parts, own + has_alpha)
    clear = _resource(data, parts, _CLEAR_INDEX)
    clear_index = int.from_bytes(clear[:2], "big") if parts.mode == _INDEXED and len(clear) > 1 else None
    findings = [deep_note()] if parts.bits == _WORD else []
    findings += [palette_note()] if parts.mode == _INDEXED else []
    findings += [extra_note()] if parts.channels > own + has_alpha else []
    is_clear = clear_index is not None and clear_index <= np.iinfo(np.uint8).max
    return Source(
        parts.width_px,
        parts.height_px,
        _COLOURS[parts.mode],
        (Alpha.ON_WHITE if _lies_on_white(planes, parts) else Alpha.STRAIGHT)
        if has_alpha
        else (Alpha.STRAIGHT if is_clear else Alpha.NONE),
        _rows(planes, parts, clear_index if is_clear else None),
        profile=_resource(data, parts, _ICC) or None,
        ppi=_ppi(_resource(data, parts, _RESOLUTION)),
        findings=tuple(findings),
    )


def _rows(planes: NDArray[np.uint8], parts: PsdParts, clear_index: int | None) -> Callable[[int, int], NDArray[np.uint8]]:
    """Rows as `Source.rows` has them, of planes (n×h×w uint8)."""
    palette = np.frombuffer(parts.palette[:_PALETTE_BYTES], np.uint8).reshape(3, -1).T if parts.mode == _INDEXED else None

    def rows(top: int, bottom: int) -> NDArray[np.uint8]:
        band = np.moveaxis(planes[:, top:bottom], 0, -1)
        if palette is not None:
            alpha = [np.where(band == clear_index, np.uint8(0), np.uint8(255))] if clear_index is not None else []
            return np.concatenate((palette[band[..., 0]], *alpha), axis=-1)
        if parts.mode == _CMYK:  # stored with 0 for full ink
            return np.concatenate((255 - band[..., :4], band[..., 4:]), axis=-1)
        return 255 - band if parts.mode == _BITMAP else band

    return rows


def _planes(data: Bytes, parts: PsdParts, count: int) -> NDArray[np.uint8]:
    """The first channels of the merged picture: count×h×w uint8, as stored (1-bit ones as 0 and 255)."""
    planes = np.empty((count, parts.height_px, parts.width_px), np.uint8)
    row_of = _row_reader(data, parts)
    for plane in range(count):
        for row in range(parts.height_px):
            planes[plane, row] = _as_8_bits(row_of(plane * parts.height_px + row), parts)
    return planes


def _row_reader(data: Bytes, parts: PsdParts) -> Callable[[int], bytes]:
    """Reads unpacked rows, counted over all channels."""
    size = parts.row_bytes
    if parts.compression == RAW:
        return lambda row: data[parts.data_at + row * size : parts.data_at + (row + 1) * size]
    if parts.compression == RLE:
        offsets = row_offsets(data, parts)
        return lambda row: _unpacked(data[int(offsets[row]) : int(offsets[row + 1])], size)
    inflater = zlib.decompressobj()
    whole = inflater.decompress(bytes(data[parts.data_at :]), parts.rows * size + 1)  # one more, for its end to be seen
    if not inflater.eof or len(whole) != parts.rows * size:
        raise ValueError("deflated picture of another length")
    if parts.compression == ZIP_PREDICTED:
        return lambda row: _undone(whole[row * size : (row + 1) * size], parts)
    return lambda row: whole[row * size : (row + 1) * size]


def _unpacked(packed: bytes, size: int) -> bytes:
    """A row unpacked from PackBits (TIFF 6.0 section 9). ValueError where it has another length."""
    row = imagecodecs.packbits_decode(packed)
    if len(row) != size:
        raise ValueError("row of another length")
    return bytes(row)


def _undone(row: bytes, parts: PsdParts) -> bytes:
    """A row whose values were stored as differences from their left neighbours."""
    form = ">u2" if parts.bits == _WORD else "u1"
    return np.cumsum(np.frombuffer(row, form), dtype=np.dtype(form).newbyteorder("=")).astype(form).tobytes()


def _as_8_bits(row: bytes, parts: PsdParts) -> NDArray[np.uint8]:
    if parts.bits == _WORD:
        return rounded_to_8(np.frombuffer(row, ">u2"))
    values = np.frombuffer(row, np.uint8)
    return np.unpackbits(values, count=parts.width_px) * np.uint8(255) if parts.bits == 1 else values


def _lies_on_white(planes: NDArray[np.uint8], parts: PsdParts) -> bool:
    """Whether colour under transparency was laid on white, as the format's own program does it, or is stored as it is.

    On white no channel is darker than 255 - alpha; a few pixels of another program's rounding aside.
    """
    least = planes[: _own_channels(parts)] if parts.mode != _LAB else planes[:1]
    darker = sum(
        int(np.count_nonzero(channel[top : top + 256].astype(np.int16) + planes[-1, top : top + 256] < 255 - _ROUNDING))
        for channel in least
        for top in range(0, parts.height_px, 256)
    )
    return darker <= _FEW * parts.rows * parts.width_px


def _resource(data: Bytes, parts: PsdParts, number: int) -> bytes:
    first, end = parts.resources.get(number, (0, 0))
    return bytes(data[first:end])


def _ppi(resource: bytes) -> tuple[float, float] | None:
    """Pixels an inch, in 16.16 fixed point, whatever unit is shown."""
    if len(resource) < _WORD:
        return None
    across, _, _, down = struct.unpack(">IHHI", resource[:12])
    return stated_ppi(across / 65536, down / 65536)
