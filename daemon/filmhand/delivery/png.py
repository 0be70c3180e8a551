"""Writing a PNG as its rows come, in the memory of a few rows. ISO/IEC 15948 (PNG, second edition)."""

import struct
import zlib
from pathlib import Path
from types import TracebackType
from typing import Final, Self

import numpy as np
from numpy.typing import NDArray

from filmhand import units

_LEVEL: Final = 1
"""Of zlib: on previews level 6 saves a tenth of the bytes for four times the time."""
_UP: Final = 2
"""Filter type 2, "Up": each byte less the one above it (section 9.2)."""
_COLOUR: Final = 2
"""Colour type 2: red, green, blue (section 11.2.2)."""


class PngWriter:
    """An open PNG of 8-bit sRGB that takes rows from the top down."""

    def __init__(self, path: Path, *, width: int, height: int, resolution: tuple[float, float]) -> None:
        self._file = path.open("wb")
        self._packer = zlib.compressobj(_LEVEL)
        self._above = np.zeros((1, width * 3), np.uint8)
        self._file.write(b"\x89PNG\r\n\x1a\n")
        self._chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, _COLOUR, 0, 0, 0))
        self._chunk(b"sRGB", b"\0")
        across, down = (round(units.mm_to_px(1000, dpi)) for dpi in resolution)
        self._chunk(b"pHYs", struct.pack(">IIB", across, down, 1))  # pixels a metre (section 11.3.5.3)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, _error: BaseException | None, _trace: TracebackType | None) -> None:
        if kind is None:
            self._chunk(b"IDAT", self._packer.flush())
            self._chunk(b"IEND", b"")
        self._file.close()

    def append(self, rows: NDArray[np.uint8]) -> None:
        """Add rows, h×width×3 uint8."""
        flat = rows.reshape(len(rows), -1)
        lines = np.empty((len(flat), flat.shape[1] + 1), np.uint8)
        lines[:, 0] = _UP
        lines[:, 1:] = flat - np.concatenate([self._above, flat[:-1]])
        self._above = flat[-1:].copy()
        if packed := self._packer.compress(lines.tobytes()):
            self._chunk(b"IDAT", packed)

    def _chunk(self, kind: bytes, data: bytes) -> None:
        self._file.write(struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data)))
