"""Whether a WebP is whole: its chunks fill exactly the length that its header states, and its picture was really written."""

import io
import struct
from collections.abc import Iterator
from typing import Final

import imagecodecs
from PIL import Image

from filmhand.artwork.hole import Bytes, hole_in, zeros_at_end
from filmhand.artwork.pillow import DECODING_ERRORS, pixel_limit
from filmhand.words import Phrase

_PICTURES: Final = (b"VP8 ", b"VP8L", b"ALPH", b"ANMF")
_HEADER: Final = 12  # "RIFF", length, "WEBP": RFC 9649 section 2.4

_DOUBTFUL_ZEROS: Final = 64
_MOST_BITS_PER_PIXEL: Final = 0.3
"""More zero bits a pixel than this at the end are no flat area. Most seen of flat pictures in all modes of libwebp 1.6: 0.09."""

_EMPTY: Final = Phrase("has a stretch of nothing in the middle of the picture")


def fault_of_webp(data: Bytes) -> Phrase | None:
    """What is wrong with a WebP file's structure, as a clause; None if it is whole. Bytes after its stated length are let be."""
    if len(data) < _HEADER + 8:
        return Phrase("stops before its picture")
    stop = 8 + struct.unpack("<I", data[4:8])[0]
    if stop > len(data):
        return Phrase("stops before the length that it states")
    try:
        chunks = list(_chunks(data, stop))
    except struct.error:
        return Phrase("stops in the middle of a part")
    pictures = [(start, end) for name, start, end in chunks if name in _PICTURES]
    if not pictures:
        return Phrase("holds no picture")
    if any(hole_in(data, start, end) is not None for start, end in pictures):
        return _EMPTY
    return _EMPTY if _last_is_hollow(data, pictures[-1], stop) else None


def _chunks(data: Bytes, stop: int) -> Iterator[tuple[bytes, int, int]]:
    """Name, begin and end of each chunk's payload. struct.error where one reaches past `stop`."""
    position = _HEADER
    while position < stop:
        name, length = struct.unpack("<4sI", data[position : min(stop, position + 8)])
        end = position + 8 + length
        if end > stop:
            raise struct.error("chunk beyond the end")
        yield name, position + 8, end
        position = end + length % 2


def _last_is_hollow(data: Bytes, span: tuple[int, int], stop: int) -> bool:
    """Whether zeros at the picture's end stand for data that never arrived.

    Both of WebP's coders write zeros for a flat area, so zeros prove nothing; but then each of them is needed. If the picture
    does not decode once half of them are cut off, they were a flat area; if it still does, they are no part of it.
    """
    start, end = span
    zeros = zeros_at_end(data, start, end)
    if zeros < _DOUBTFUL_ZEROS:
        return False
    if zeros >= end - start - 16:
        return True
    try:
        with pixel_limit(None), Image.open(io.BytesIO(data[:stop]), formats=("WEBP",)) as picture:
            pixels, is_still = picture.width * picture.height, getattr(picture, "n_frames", 1) == 1
    except DECODING_ERRORS:
        return True
    is_dense = zeros * 8 > _MOST_BITS_PER_PIXEL * pixels
    return is_still and (is_dense or _decodes(_cut(data, span, end - zeros // 2)))


def _cut(data: Bytes, span: tuple[int, int], end: int) -> bytes:
    """The file with its last picture chunk ended at an even place near `end`, and the lengths that state it made to agree."""
    start, _ = span
    end -= (end - start) % 2
    return b"".join((b"RIFF", struct.pack("<I", end - 8), data[8 : start - 4], struct.pack("<I", end - start), data[start:end]))


def _decodes(data: bytes) -> bool:
    try:
        imagecodecs.webp_decode(data)
    except RuntimeError:
        return False
    return True
