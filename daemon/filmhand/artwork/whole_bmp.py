"""Whether a BMP is whole: its pixels lie inside the file."""

import struct
from typing import Final

from filmhand.artwork.hole import Bytes, hole_in, zeros_at_end
from filmhand.words import Phrase

# Headers as Microsoft documents them for GDI: BITMAPFILEHEADER, BITMAPCOREHEADER, BITMAPINFOHEADER; from memory.
_CORE: Final = 12
_RLE: Final = (1, 2)

_SHORT: Final = Phrase("stops before the end of its picture")
_EMPTY: Final = Phrase("has a stretch of nothing in the middle of the picture")


def fault_of_bmp(data: Bytes) -> Phrase | None:
    """What is wrong with a BMP file's structure, as a clause; None if it is whole. Bytes after the picture are let be."""
    try:
        start, header = struct.unpack("<II", data[10:18])
        if header == _CORE:
            width, height, _, bits = struct.unpack("<HHHH", data[18:26])
            compression, stated = 0, 0
        else:
            width, height, _, bits, compression, stated = struct.unpack("<iiHHII", data[18:38])
    except struct.error:
        return Phrase("stops before its picture")
    if compression in _RLE:
        stop = start + stated if stated else len(data)
        if stop > len(data):
            return _SHORT
        return None if data[max(start, stop - 4) : stop].rstrip(b"\0").endswith(b"\1") else _SHORT
    stop = start + (width * bits + 31) // 32 * 4 * abs(height)
    if stop > len(data):
        return _SHORT
    is_black = zeros_at_end(data, start, stop) == stop - start  # which may be meant
    return _EMPTY if not is_black and hole_in(data, start, stop) is not None else None
