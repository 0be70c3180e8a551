"""Whether a PNG is whole: every chunk there, each with the checksum it carries, up to the end chunk."""

import struct
import zlib
from typing import Final

from filmhand.artwork.hole import Bytes
from filmhand.words import Phrase

_SIGNATURE_LENGTH: Final = 8
_FRAME: Final = 12  # length, type and checksum around a chunk's data: ISO/IEC 15948 section 5.3


def fault_of_png(data: Bytes) -> Phrase | None:
    """What is wrong with a PNG file's structure, as a clause; None if it is whole. Bytes after the end chunk are let be."""
    position = _SIGNATURE_LENGTH
    has_pixels = False
    with memoryview(data) as view:
        while position + _FRAME <= len(view):
            length, name = struct.unpack_from(">I4s", view, position)
            end = position + 8 + length
            if end + 4 > len(view):
                return Phrase("stops in the middle of a part")
            if zlib.crc32(view[position + 4 : end]) != struct.unpack_from(">I", view, end)[0]:
                return Phrase("has a part that does not match its own checksum")
            has_pixels |= name == b"IDAT"
            if name == b"IEND":
                return None if has_pixels else Phrase("holds no picture")
            position = end + 4
    return Phrase("stops before its end mark")
