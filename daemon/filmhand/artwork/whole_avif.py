"""Whether an AVIF is whole: its boxes fill the file, each item's data lies inside it and was really written."""

import struct
from collections.abc import Iterator
from typing import Final

from filmhand.artwork.hole import Bytes, zeros_at_end
from filmhand.words import Phrase

# ISO/IEC 14496-12 section 4.2 (boxes), 8.11.3 (item locations).
_LARGE, _TO_THE_END = 1, 0
_IN_FILE: Final = 0
_MOST_BOXES: Final = 10_000

_SHORT: Final = Phrase("stops in the middle of a part")
_EMPTY: Final = Phrase("has a stretch of nothing in the middle of the picture")

Span = tuple[int, int]


def fault_of_avif(data: Bytes) -> Phrase | None:
    """What is wrong with an AVIF file's structure, as a clause; None if it is whole."""
    try:
        found = list(boxes(data, 0, len(data)))
        names = {name for name, _, _ in found}
        if not names & {b"meta", b"moov"}:
            return Phrase("holds no picture")
        meta = next(((start, stop) for name, start, stop in found if name == b"meta"), None)
        spans = [] if meta is None else list(_items(data, *meta))
    except (struct.error, IndexError):
        return _SHORT
    if any(stop > len(data) or start >= stop for start, stop in spans) or b"mdat" not in names:
        return _SHORT
    media = [(start, stop) for name, start, stop in found if name == b"mdat"]
    return _EMPTY if any(_is_hollow(data, *span) for span in (*spans, *media)) else None


def boxes(data: Bytes, start: int, stop: int) -> Iterator[tuple[bytes, int, int]]:
    """Name, begin and end of the contents of each box within data[start:stop]. struct.error where one reaches past it."""
    for _ in range(_MOST_BOXES):
        if start >= stop:
            return
        size, name = struct.unpack(">I4s", data[start : start + 8])
        first = start + 8
        if size == _LARGE:
            (size,) = struct.unpack(">Q", data[first : first + 8])
            first += 8
        end = stop if size == _TO_THE_END else start + size
        if end > stop or end < first:
            raise struct.error("box beyond the end")
        yield name, first, end
        start = end
    raise struct.error("too many boxes")


def _items(data: Bytes, start: int, stop: int) -> Iterator[Span]:
    """Begin and end in the file of each item's data, as the `iloc` box in `meta` states them."""
    for name, first, end in boxes(data, start + 4, stop):  # `meta` is a full box: version and flags first
        if name == b"iloc":
            yield from _extents(_Reader(data, first, end))


def _extents(read: "_Reader") -> Iterator[Span]:
    version = read.number(1)
    read.number(3)
    sizes = read.number(2)
    offset_bytes, length_bytes, base_bytes = sizes >> 12, sizes >> 8 & 15, sizes >> 4 & 15
    index_bytes = sizes & 15 if version else 0
    for _ in range(read.number(4 if version > 1 else 2)):
        read.number(4 if version > 1 else 2)  # the item's number
        method = read.number(2) & 15 if version else _IN_FILE
        read.number(2)  # which file: always this one
        base = read.number(base_bytes)
        for _ in range(read.number(2)):
            read.number(index_bytes)
            first = base + read.number(offset_bytes)
            length = read.number(length_bytes)
            if method == _IN_FILE and length:
                yield first, first + length


class _Reader:
    """Reads numbers one after the other. IndexError past the end."""

    def __init__(self, data: Bytes, start: int, stop: int) -> None:
        self._data, self._at, self._stop = data, start, stop

    def number(self, size: int) -> int:
        """An unsigned number of so many bytes, the highest first."""
        if self._at + size > self._stop:
            raise IndexError
        self._at += size
        return int.from_bytes(self._data[self._at - size : self._at], "big")


def _is_hollow(data: Bytes, start: int, stop: int) -> bool:
    """AV1's coder leaves no long runs of zeros (most seen of flat pictures by libavif: 4, and none at the end)."""
    zeros = min(_MOST_ZEROS, stop - start)
    return data.find(bytes(zeros), start, stop) >= 0 or zeros_at_end(data, start, stop) >= min(_MOST_AT_END, zeros)


_MOST_ZEROS: Final = 64
_MOST_AT_END: Final = 16
