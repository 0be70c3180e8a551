"""The parts of a PSD or PSB, and whether it is whole: its sections follow each other up to the last row of its merged picture."""

import struct
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.artwork.hole import Bytes, hole_in, zeros_at_end
from filmhand.words import Phrase

# Adobe Photoshop File Formats Specification (2019): header, colour mode data, image resources, layer and mask information,
# image data.
_HEADER: Final = struct.Struct(">4sH6xHIIHH")
_LARGE: Final = 2  # the version of a PSB, whose lengths and row counts are longer
RAW, RLE, ZIP, ZIP_PREDICTED = 0, 1, 2, 3
_MERGED_ALPHA: Final = (b"Mtrn", b"Mt16", b"Mt32")
_DEEP_LAYERS: Final = (b"Lr16", b"Lr32")
_TAGS: Final = (b"8BIM", b"8B64")
_LONG_KEYS: Final = frozenset(
    (b"LMsk", b"Lr16", b"Lr32", b"Layr", b"Mt16", b"Mt32", b"Mtrn", b"Alph", b"FMsk", b"lnk2", b"FEid", b"FXid", b"PxSD")
)

_SHORT: Final = Phrase("stops before the end of its merged picture")
_EARLY: Final = Phrase("stops before its merged picture")
_EMPTY: Final = Phrase("has a stretch of nothing in the middle of the picture")
_STRANGE: Final = Phrase("has a merged picture that cannot be read")


@dataclass(frozen=True)
class PsdParts:
    """`resources`: begin and end of each image resource by number.

    `has_merged_alpha`: the first channel beyond the colour's own is the merged picture's transparency. `data_at`: where the
    merged picture's bytes begin, after its compression's number.
    """

    is_large: bool
    channels: int
    height_px: int
    width_px: int
    bits: int
    mode: int
    palette: bytes
    resources: dict[int, tuple[int, int]]
    has_merged_alpha: bool
    compression: int
    data_at: int

    @property
    def row_bytes(self) -> int:
        """Bytes of an unpacked row of one channel; rows begin at bytes."""
        return -(-self.width_px * self.bits // 8)

    @property
    def rows(self) -> int:
        """Rows of all channels together: channel after channel."""
        return self.channels * self.height_px


def fault_of_psd(data: Bytes) -> Phrase | None:
    """What is wrong with a PSD's structure, as a clause; None if it is whole."""
    try:
        parts = parts_of(data)
    except (struct.error, IndexError, ValueError):
        return _EARLY
    if not (parts.channels and parts.height_px and parts.width_px and parts.compression in (RAW, RLE, ZIP, ZIP_PREDICTED)):
        return _STRANGE
    if parts.compression == RAW:
        stop = parts.data_at + parts.rows * parts.row_bytes
        return _SHORT if stop > len(data) else _hollow(data, parts.data_at, stop)
    if parts.compression == RLE:
        return _fault_of_rle(data, parts)
    return _EMPTY if zeros_at_end(data, parts.data_at, len(data)) >= min(16, len(data) - parts.data_at) else None


def _fault_of_rle(data: Bytes, parts: PsdParts) -> Phrase | None:
    try:
        offsets = row_offsets(data, parts)
    except (ValueError, MemoryError):
        return _SHORT
    start, stop = int(offsets[0]), int(offsets[-1])
    if stop > len(data):
        return _SHORT
    # A packed row is two bytes at least (a run of 128), so counts of 0 were never written.
    return _EMPTY if (np.diff(offsets) == 0).any() else _hollow(data, start, stop)


def _hollow(data: Bytes, start: int, stop: int) -> Phrase | None:
    """Black is zeros, so only holes between block boundaries count."""
    is_black = zeros_at_end(data, start, stop) == stop - start
    return _EMPTY if not is_black and hole_in(data, start, stop) is not None else None


def row_offsets(data: Bytes, parts: PsdParts) -> NDArray[np.int64]:
    """Where each packed row of each channel begins, and where the last ends. ValueError where the table is cut short."""
    form = ">u4" if parts.is_large else ">u2"
    table_bytes = parts.rows * np.dtype(form).itemsize
    if parts.data_at + table_bytes > len(data):
        raise ValueError("row table beyond the end")
    counts = np.frombuffer(data[parts.data_at : parts.data_at + table_bytes], form)
    return np.concatenate(([0], np.cumsum(counts, dtype=np.int64))) + parts.data_at + table_bytes


def parts_of(data: Bytes) -> PsdParts:
    """The parts of a PSD. struct.error, IndexError or ValueError where it ends before them, or is none."""
    _, version, channels, height, width, bits, mode = _HEADER.unpack(data[: _HEADER.size])
    if version not in (1, _LARGE):
        raise ValueError("no version of this format")
    is_large = version == _LARGE
    palette_at, position = _section(data, _HEADER.size, ">I")
    resources_at, layers_at = _section(data, position, ">I")
    inner, data_at = _section(data, layers_at, ">Q" if is_large else ">I")
    (compression,) = struct.unpack(">H", data[data_at : data_at + 2])
    return PsdParts(
        is_large,
        channels,
        height,
        width,
        bits,
        mode,
        bytes(data[palette_at:position]),
        dict(_resources(data, resources_at, layers_at)),
        _has_merged_alpha(data, inner, data_at, is_large=is_large),
        compression,
        data_at + 2,
    )


def _section(data: Bytes, position: int, form: str) -> tuple[int, int]:
    """Begin and end of a section that states its length."""
    size = struct.calcsize(form)
    (length,) = struct.unpack(form, data[position : position + size])
    if position + size + length > len(data):
        raise ValueError("section beyond the end")
    return position + size, position + size + length


def _resources(data: Bytes, start: int, stop: int) -> Iterator[tuple[int, tuple[int, int]]]:
    while start + 12 <= stop and data[start : start + 4] == b"8BIM":
        (number,) = struct.unpack(">H", data[start + 4 : start + 6])
        name_bytes = 1 + data[start + 6]
        first, end = _section(data, start + 6 + name_bytes + name_bytes % 2, ">I")
        if end > stop:
            raise ValueError("resource beyond its section")
        yield number, (first, end)
        start = end + (end - first) % 2


def _has_merged_alpha(data: Bytes, start: int, stop: int, *, is_large: bool) -> bool:
    """A negative number of layers says so; for 16 bits and more it stands in a block of its own, or a block says it by name."""
    if start >= stop:
        return False
    layers, after = _section(data, start, ">Q" if is_large else ">I")
    if after > layers + 1:
        return _is_negative(data, layers)
    if after + 4 > stop:
        return False
    _, position = _section(data, after, ">I")  # global layer mask information
    while position + 12 <= stop and data[position : position + 4] in _TAGS:
        key = data[position + 4 : position + 8]
        first, end = _section(data, position + 8, ">Q" if is_large and key in _LONG_KEYS else ">I")
        if key in _MERGED_ALPHA or (key in _DEEP_LAYERS and end > first + 1 and _is_negative(data, first)):
            return True
        position = end + -(end - first) % 4
    return False


def _is_negative(data: Bytes, at: int) -> bool:
    return bool(data[at] & 0x80)
