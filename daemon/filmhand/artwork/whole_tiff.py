"""Whether a TIFF is whole: every directory, value, strip and tile inside the file, and strips that were really written."""

import struct
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Final

from filmhand.artwork.hole import Bytes, hole_in, zeros_at_end
from filmhand.artwork.whole_jpeg import fault_of_jpeg
from filmhand.words import Phrase

# Tag numbers and compression schemes: TIFF 6.0 part 2 and section 9 to 15; 7, 8, 32946: TIFF Technical Note 2 and Adobe's notes.
_COMPRESSION, _STRIP_OFFSETS, _STRIP_COUNTS, _TILE_OFFSETS, _TILE_COUNTS = 259, 273, 279, 324, 325
_WIDTH, _LENGTH, _BITS, _SAMPLES, _ROWS, _PLANAR, _TILE_WIDTH, _TILE_LENGTH = 256, 257, 258, 277, 278, 284, 322, 323
_SEPARATE: Final = 2
_NONE, _LZW, _JPEG, _DEFLATES, _PACKBITS = 1, 5, 7, (8, 32946), 32773

_TYPE_BYTES: Final = {1: 1, 2: 1, 3: 2, 4: 4, 5: 8, 6: 1, 7: 1, 8: 2, 9: 4, 10: 8, 11: 4, 12: 8, 13: 4, 16: 8, 17: 8, 18: 8}
_INTEGERS: Final = {1: "B", 3: "H", 4: "I", 16: "Q"}
_MOST_PAGES: Final = 1000

_SHORT: Final = Phrase("stops before the end of its picture")
_EMPTY: Final = Phrase("has a stretch of nothing in the middle of the picture")


@dataclass(frozen=True)
class _Layout:
    """Sizes that differ between a classic TIFF and a BigTIFF, and the byte order."""

    order: str
    offset: str
    count: str
    entry_bytes: int

    @property
    def offset_bytes(self) -> int:
        return struct.calcsize("=" + self.offset)

    def read(self, data: Bytes, position: int, form: str) -> int:
        """One integer; struct.error past the end."""
        size = struct.calcsize("=" + form)
        return int(struct.unpack(self.order + form, data[position : position + size])[0])


def fault_of_tiff(data: Bytes) -> Phrase | None:
    """What is wrong with a TIFF file's structure, as a clause; None if it is whole."""
    order = "<" if data[:2] == b"II" else ">"
    is_big = data[2:4] in (b"+\0", b"\0+")
    layout = _Layout(order, "Q", "Q", 20) if is_big else _Layout(order, "I", "H", 12)
    try:
        pages = list(_pages(data, layout, 8 if is_big else 4))
    except struct.error:
        return Phrase("stops before the end of its directory")
    if not pages:
        return Phrase("holds no picture")
    return next((fault for page in pages if (fault := _fault_of_page(data, page)) is not None), None)


def _pages(data: Bytes, layout: _Layout, at: int) -> Iterator[dict[int, tuple[int, ...]]]:
    """Integer values by tag of each image file directory. struct.error where one, or a value, lies beyond the end."""
    seen: set[int] = set()
    position = layout.read(data, at, layout.offset)
    while position and position not in seen and len(seen) < _MOST_PAGES:
        seen.add(position)
        count = layout.read(data, position, layout.count)
        first = position + struct.calcsize("=" + layout.count)
        after = first + count * layout.entry_bytes
        if after > len(data):
            raise struct.error("directory beyond the end")
        yield {layout.read(data, entry, "H"): _values(data, layout, entry) for entry in range(first, after, layout.entry_bytes)}
        position = layout.read(data, after, layout.offset)


def _values(data: Bytes, layout: _Layout, entry: int) -> tuple[int, ...]:
    """The values of an entry if they are integers, else nothing; in either case they must lie inside the file."""
    kind = layout.read(data, entry + 2, "H")
    count = layout.read(data, entry + 4, layout.offset)
    place = entry + 4 + layout.offset_bytes
    size = count * _TYPE_BYTES.get(kind, 0)
    if size > layout.offset_bytes:
        place = layout.read(data, place, layout.offset)
        if place + size > len(data):
            raise struct.error("value beyond the end")
    if kind not in _INTEGERS:
        return ()
    return struct.unpack(f"{layout.order}{count}{_INTEGERS[kind]}", data[place : place + size])


def _fault_of_page(data: Bytes, tags: dict[int, tuple[int, ...]]) -> Phrase | None:
    offsets = tags.get(_STRIP_OFFSETS) or tags.get(_TILE_OFFSETS) or ()
    counts = tags.get(_STRIP_COUNTS) or tags.get(_TILE_COUNTS) or ()
    compression = (tags.get(_COMPRESSION) or (_NONE,))[0]
    if not offsets:
        return None  # A directory without a picture, such as one that only holds others.
    if len(counts) != len(offsets) or not all(offsets):
        return _SHORT
    if any(count == 0 or offset + count > len(data) for offset, count in zip(offsets, counts, strict=True)):
        return _SHORT
    if len(offsets) < _parts(tags):
        return _SHORT
    if compression == _NONE:
        return _SHORT if sum(counts) < _plain_bytes(tags) else None
    is_hollow = _IS_HOLLOW.get(compression, _ends_in_nothing)
    hollow = any(is_hollow(data, offset, offset + count) for offset, count in zip(offsets, counts, strict=True))
    return _EMPTY if hollow else None


def _first(tags: dict[int, tuple[int, ...]], tag: int, default: int) -> int:
    return (tags.get(tag) or (default,))[0]


def _parts(tags: dict[int, tuple[int, ...]]) -> int:
    """How many strips or tiles the picture's size asks for (TIFF 6.0 sections 8 and 15)."""
    width, length = _first(tags, _WIDTH, 0), _first(tags, _LENGTH, 0)
    across, down = _first(tags, _TILE_WIDTH, 0), _first(tags, _TILE_LENGTH, 0)
    if not (_TILE_OFFSETS in tags and across and down):
        across, down = max(1, width), max(1, min(_first(tags, _ROWS, length), length))
    planes = _first(tags, _SAMPLES, 1) if _first(tags, _PLANAR, 1) == _SEPARATE else 1
    return -(-width // across) * -(-length // down) * planes


def _plain_bytes(tags: dict[int, tuple[int, ...]]) -> int:
    """The least bytes of an uncompressed picture: rows begin at bytes."""
    bits, samples = _first(tags, _BITS, 1), _first(tags, _SAMPLES, 1)
    is_separate = _first(tags, _PLANAR, 1) == _SEPARATE
    row_bits = _first(tags, _WIDTH, 0) * bits * (1 if is_separate else samples)
    return -(-row_bits // 8) * _first(tags, _LENGTH, 0) * (samples if is_separate else 1)


def _ends_in_nothing(data: Bytes, start: int, stop: int) -> bool:
    """Other compressions end in a mark or a checksum that is not zero."""
    return zeros_at_end(data, start, stop) >= min(16, stop - start) or hole_in(data, start, stop) is not None


def _is_hollow_lzw(data: Bytes, start: int, stop: int) -> bool:
    """Two equal codes make the next string of the table (TIFF 6.0 section 13), so code 0 never follows itself for long."""
    return data.find(bytes(16), start, stop) >= 0 or zeros_at_end(data, start, stop) == stop - start


def _is_hollow_packbits(data: Bytes, start: int, stop: int) -> bool:
    """A header byte follows at most 128 literal bytes (TIFF 6.0 section 9), and is not zero unless a single byte follows it."""
    return data.find(bytes(260), start, stop) >= 0 or zeros_at_end(data, start, stop) == stop - start


def _is_hollow_deflate(data: Bytes, start: int, stop: int) -> bool:
    """A deflated flat area may be zeros, so where a hole may be, the checksum (RFC 1950 section 2.2) decides."""
    if not data[stop - 4 : stop].strip(b"\0"):
        return True  # The first half of an Adler-32 is never zero for short data, and for long data once in 65521.
    if data.find(bytes(64), start, stop) < 0:
        return False
    inflater = zlib.decompressobj()
    try:
        for position in range(start, stop, 1 << 16):
            piece = data[position : min(stop, position + (1 << 16))]
            while piece:
                inflater.decompress(piece, 1 << 20)
                piece = inflater.unconsumed_tail
    except zlib.error:
        return True
    return not inflater.eof


def _is_hollow_jpeg(data: Bytes, start: int, stop: int) -> bool:
    return fault_of_jpeg(data, start, stop) is not None


_IS_HOLLOW: Final[dict[int, Callable[[Bytes, int, int], bool]]] = {
    _LZW: _is_hollow_lzw,
    _JPEG: _is_hollow_jpeg,
    _PACKBITS: _is_hollow_packbits,
    **dict.fromkeys(_DEFLATES, _is_hollow_deflate),
}
