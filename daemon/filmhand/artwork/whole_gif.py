"""Whether a GIF is whole: its blocks follow each other up to the trailer, and its pictures were really written."""

from typing import Final

from filmhand.artwork.hole import Bytes, hole_in
from filmhand.artwork.refusal import CANNOT_BE_READ
from filmhand.words import Phrase

# GIF89a specification, sections 17 to 27.
_HEADER: Final = 13  # signature and logical screen descriptor
_EXTENSION, _PICTURE, _TRAILER = 0x21, 0x2C, 0x3B
_DESCRIPTOR: Final = 9
_HAS_TABLE: Final = 0x80

_EMPTY: Final = Phrase("holds no picture")
_EARLY: Final = Phrase("stops before its end mark")
_HOLLOW: Final = Phrase("has a stretch of nothing in the middle of the picture")


def fault_of_gif(data: Bytes) -> Phrase | None:
    """What is wrong with a GIF file's structure, as a clause; None if it is whole. Bytes after the trailer are let be."""
    has_picture = False
    try:
        position = first_at = _HEADER + _table_bytes(data[10])
        while True:
            block = data[position]
            if block == _TRAILER:
                return _EMPTY if not has_picture else _HOLLOW if hole_in(data, first_at, position) else None
            if block == 0:
                position += 1  # Some programs write one too many, and every reader steps over it.
            elif block == _EXTENSION:
                position = _after_parts(data, position + 2)
            elif block == _PICTURE:
                has_picture = True
                first = position + 1 + _DESCRIPTOR
                first += _table_bytes(data[first - 1]) + 1  # and the least code size
                position = _after_parts(data, first)
                if position == first + 1:
                    return _HOLLOW
            else:
                return _HOLLOW if has_picture else CANNOT_BE_READ
    except IndexError:
        return _EARLY


def _table_bytes(flags: int) -> int:
    """Bytes of a colour table: three for each of 2 to 256 colours."""
    return 3 * 2 ** ((flags & 7) + 1) if flags & _HAS_TABLE else 0


def _after_parts(data: Bytes, position: int) -> int:
    """Where a run of data sub-blocks ends: after one of length 0. IndexError where the file ends first."""
    while data[position]:
        position += data[position] + 1
    return position + 1
