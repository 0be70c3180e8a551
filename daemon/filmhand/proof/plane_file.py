"""Reading rows of a delivered TIFF, strip by strip: tifffile reads the directory, imagecodecs the strips."""

import os
from collections.abc import Callable
from functools import lru_cache
from pathlib import Path
from typing import Any, Final, TypeVar

import numpy as np
import tifffile
from numpy.typing import NDArray

from filmhand.delivery.strips import decode
from filmhand.errors import FilmhandError, MachineError, NotFoundError

TAKE_ANOTHER: Final = "Take the sheet's folder from where it was delivered, or from a copy of it"
_KEPT_BYTES: Final = 2 << 20
"""About how much of a plane, uncompressed, is remembered."""
_UNREADABLE: Final = (ValueError, RuntimeError, LookupError, TypeError, AttributeError, tifffile.TiffFileError)
"""What libraries raise at damaged files: tifffile finds a tag missing, imagecodecs a code that cannot be."""

Found = TypeVar("Found")


class PlaneFile:
    """An open TIFF of one plane or more, uint8 samples. Rows may be asked for from any thread, in any order."""

    def __init__(self, path: Path) -> None:
        """NotFoundError where it is missing, MachineError where it is damaged."""
        self.path = path
        page: Any = _tried(path, lambda: _page(path))
        self.width, self.length, self.bits, self.planes = _tried(
            path, lambda: (page.imagewidth, page.imagelength, page.bitspersample, page.samplesperpixel)
        )
        self._compression, self._rows_per_strip = _tried(path, lambda: (int(page.compression), int(page.rowsperstrip)))
        self._places = _tried(path, lambda: list(zip(page.dataoffsets, page.databytecounts, strict=True)))
        self._in_plane = -(-self.length // self._rows_per_strip)
        self._row_bytes = -(-self.width * self.bits // 8)
        if len(self._places) != self.planes * self._in_plane:
            raise _damaged(path, "it has not all its strips")
        kept = max(2 * self.planes, _KEPT_BYTES * self.planes // (self._rows_per_strip * self._row_bytes))
        self._strip = lru_cache(maxsize=kept)(self._read_strip)
        self._descriptor = _tried(path, lambda: os.open(path, os.O_RDONLY))

    def close(self) -> None:
        """Let go of the file."""
        os.close(self._descriptor)

    def rows(self, plane: int, first: int, last: int) -> NDArray[np.uint8]:
        """Samples of rows `first` to `last` (not included) of a plane, (rows, width) uint8. MachineError if damaged."""
        found = np.empty((last - first, self._row_bytes), np.uint8)
        row = first
        while row < last:
            strip, inside = divmod(row, self._rows_per_strip)
            some = self._strip(plane * self._in_plane + strip)[inside : inside + last - row]
            found[row - first : row - first + len(some)] = some
            row += len(some)
        return _samples(found, self.bits, self.width)

    def _read_strip(self, number: int) -> NDArray[np.uint8]:
        """Rows × bytes."""
        offset, size = self._places[number]
        rows = min(self._rows_per_strip, self.length - number % self._in_plane * self._rows_per_strip)
        wanted = rows * self._row_bytes
        packed = _tried(self.path, lambda: os.pread(self._descriptor, size, offset))
        strip = np.frombuffer(_tried(self.path, lambda: decode(packed, self._compression, wanted)), np.uint8)
        if strip.size != wanted:
            raise _damaged(self.path, f"a strip holds {strip.size} bytes, not {wanted}")
        return strip.reshape(rows, self._row_bytes)


def _page(path: Path) -> Any:
    with tifffile.TiffFile(path) as tiff:
        return tiff.pages.first


def _samples(rows: NDArray[np.uint8], bits: int, width: int) -> NDArray[np.uint8]:
    """A sample a byte. A byte's highest bits are its first sample's (TIFF 6.0, FillOrder 1)."""
    match bits:
        case 1:
            return np.unpackbits(rows, axis=1, count=width)
        case 2:
            return np.stack([rows >> shift & 3 for shift in (6, 4, 2, 0)], axis=-1).reshape(len(rows), -1)[:, :width]
        case _:
            return rows


def _tried(path: Path, do: Callable[[], Found]) -> Found:
    try:
        return do()
    except FileNotFoundError:
        raise NotFoundError("A plane of this sheet is missing", file=path, next_step=TAKE_ANOTHER) from None
    except OSError as problem:
        raise MachineError(f"This plane cannot be read: {problem.strerror}", file=path, next_step=TAKE_ANOTHER) from None
    except _UNREADABLE as problem:
        raise _damaged(path, str(problem)) from None


def _damaged(path: Path, what: str) -> FilmhandError:
    return MachineError(f"This plane is damaged: {what}", file=path, next_step=TAKE_ANOTHER)
