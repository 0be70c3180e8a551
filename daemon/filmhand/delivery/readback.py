"""Reading a composed sheet back, before anyone else sees it: what stands in the files is what was laid.

tifffile reads the directory, imagecodecs the strips: neither wrote them. A strip at a time, on threads; nothing is kept but sums.
"""

import os
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final
from zlib import crc32

import numpy as np
import tifffile
from numpy.typing import NDArray

from filmhand.delivery.strips import check_sum, decode
from filmhand.delivery.tiff import ink_name
from filmhand.durable import sha256_of
from filmhand.errors import MachineError
from filmhand.gang.composed import CONTINUOUS, Composed

_STRIPS_AT_A_TIME: Final = 64


@dataclass(frozen=True)
class _Strip:
    """Where a compressed strip lies, and what it should come to."""

    offset: int
    size: int
    rows: int
    row_bytes: int
    compression: int


def read_back(folder: Path, composed: Composed) -> dict[str, str]:
    """SHA-256 by file name, the preview's too. MachineError where a file does not say, or hold, what was composed."""
    digests = {}
    for place, name in enumerate(composed.files):
        inks = composed.inks if len(composed.files) == 1 else (composed.inks[place],)
        path = folder / name
        try:
            _check(path, inks, composed)
        except (OSError, ValueError, RuntimeError, LookupError, tifffile.TiffFileError) as problem:
            raise _wrong(path, f"cannot be read: {problem}") from problem
        digests[name] = sha256_of(path)
    digests[composed.preview] = sha256_of(folder / composed.preview)
    return digests


def _check(path: Path, inks: tuple[str, ...], composed: Composed) -> None:
    with tifffile.TiffFile(path) as tiff:
        page = tiff.pages.first
        for what, found, wanted in _facts(page, inks, composed):
            if found != wanted:
                raise _wrong(path, f"{what} is {found}, not {wanted}")
        strips = _strips(page, composed)
        in_plane = len(strips) // len(inks)
        for place, ink in enumerate(inks):
            counted, check = _count(path, strips[place * in_plane : (place + 1) * in_plane], composed)
            if counted != composed.samples[ink]:
                raise _wrong(path, f"{ink} has {counted} dots, {composed.samples[ink]} were laid")
            if check != composed.checks[ink]:
                raise _wrong(path, f"{ink} has as many dots as were laid, but not where they were laid")


def _facts(page: Any, inks: tuple[str, ...], composed: Composed) -> Iterator[tuple[str, object, object]]:
    """What the directory says, beside what it should."""
    yield "width", page.imagewidth, composed.width_dots
    yield "length", page.imagelength, composed.length_dots
    yield "bits a sample", page.bitspersample, composed.bits
    yield "samples a dot", page.samplesperpixel, len(inks)
    yield "resolution", tuple(page.get_resolution("inch")), tuple(float(dpi) for dpi in composed.resolution)
    names = "\0".join(ink_name(ink) for ink in inks)
    yield "ink names", str(page.tags["InkNames"].value).strip("\0"), names


def _strips(page: Any, composed: Composed) -> list[_Strip]:
    """All strips of all planes, in order."""
    rows_per_strip = page.rowsperstrip
    in_plane = -(-composed.length_dots // rows_per_strip)
    row_bytes = -(-composed.width_dots * composed.bits // 8)
    return [
        _Strip(
            offset=offset,
            size=size,
            rows=min(rows_per_strip, composed.length_dots - place % in_plane * rows_per_strip),
            row_bytes=row_bytes,
            compression=int(page.compression),
        )
        for place, (offset, size) in enumerate(zip(page.dataoffsets, page.databytecounts, strict=True))
    ]


def _count(path: Path, strips: list[_Strip], composed: Composed) -> tuple[tuple[int, ...], int]:
    """As `Composed.samples` and `Composed.checks`, of what the strips hold."""
    total = np.zeros(1 if composed.bits == CONTINUOUS else (1 << composed.bits) - 1, np.int64)
    check = 0
    file = os.open(path, os.O_RDONLY)
    try:
        with ThreadPoolExecutor(os.cpu_count(), "read-back") as pool:
            for first in range(0, len(strips), _STRIPS_AT_A_TIME):
                some = strips[first : first + _STRIPS_AT_A_TIME]
                for counts, strip_check in pool.map(lambda strip: _samples(file, strip, composed), some):
                    total += counts
                    check = crc32(strip_check.to_bytes(4, "little"), check)
    finally:
        os.close(file)
    return tuple(int(n) for n in total), check


def _samples(file: int, strip: _Strip, composed: Composed) -> tuple[NDArray[np.int64], int]:
    """Of one strip: dots by drop size, or the sum of tones; and its check sum."""
    size = strip.rows * strip.row_bytes
    data = np.frombuffer(decode(os.pread(file, strip.size, strip.offset), strip.compression, size), np.uint8)
    if data.size != size:
        raise ValueError(f"a strip holds {data.size} bytes, not {size}")
    return _counted(data, composed.bits), check_sum(data)


def _counted(data: NDArray[np.uint8], bits: int) -> NDArray[np.int64]:
    if bits == CONTINUOUS:
        return np.asarray(data.sum(dtype=np.int64, keepdims=True))
    if bits == 1:
        whole = data.size // 8 * 8
        dots = np.bitwise_count(data[:whole].view(np.uint64)).sum(dtype=np.int64)
        return np.array([dots + np.bitwise_count(data[whole:]).sum(dtype=np.int64)])
    high, low = (data >> 1) & 0x55, data & 0x55  # the two bits of each of a byte's four samples, apart
    sizes = (low & ~high, high & ~low, high & low)
    return np.array([np.bitwise_count(one).sum(dtype=np.int64) for one in sizes])


def _wrong(path: Path, what: str) -> MachineError:
    return MachineError(
        f"A composed sheet does not hold what was laid: {what}",
        file=path,
        next_step="It was not delivered and is composed again. Look to the disk and the memory of this machine if this returns.",
    )
