"""Compressing one strip of a TIFF plane. LZW is ours (lzw.py); the rest is imagecodecs, outside the interpreter's lock."""

from typing import Any, Final, cast

import imagecodecs
import numpy as np
from numpy.typing import NDArray

from filmhand.delivery.lzw import lzw_encode
from filmhand.rules import Compression

CODES: Final = {Compression.NONE: 1, Compression.LZW: 5, Compression.DEFLATE: 8, Compression.PACKBITS: 32773}
"""Values of the Compression tag: TIFF 6.0 sections 8 and 9; 8 is Deflate as TIFF Technical Note (2002) registers it."""
MOST_GROWTH: Final = 1.5
"""No compression makes a strip longer than this many times: LZW writes at most 12 bits for a byte."""
_DEFLATE_LEVEL: Final = 1
"""The fastest of libdeflate, at its zlib framing. Screened dots hold little that a longer search would find."""


def encode(samples: NDArray[np.uint8], compression: Compression) -> bytes:
    """A strip, rows×bytes uint8 and contiguous, as it stands in the file."""
    match compression:
        case Compression.NONE:
            return samples.tobytes()
        case Compression.LZW:
            return lzw_encode(samples.reshape(-1))
        case Compression.DEFLATE:
            return bytes(imagecodecs.deflate_encode(samples.tobytes(), level=_DEFLATE_LEVEL, raw=False))
        case Compression.PACKBITS:  # each row by itself: TIFF 6.0 section 9
            return bytes(imagecodecs.packbits_encode(samples, axis=-1))


def check_sum(rows: NDArray[np.uint8] | bytes) -> int:
    """CRC-32 (ISO/IEC 15948 annex D) of a strip before it is compressed."""
    return int(cast(Any, imagecodecs).deflate_crc32(rows))  # any buffer will do, which not every version's types say


def decode(strip: bytes, compression_tag: int, size: int) -> bytes:
    """The `size` bytes that a strip stands for, by another's decoder."""
    match compression_tag:
        case 1:
            return strip
        case 5:
            return bytes(imagecodecs.lzw_decode(strip, out=size))
        case 8:
            return bytes(imagecodecs.deflate_decode(strip, out=size, raw=False))
        case _:
            return bytes(imagecodecs.packbits_decode(strip, out=size))
