"""What an AVIF says of its pixels beside them: bits a channel, and colours by code points."""

import struct
from dataclasses import dataclass
from typing import Final

from filmhand.artwork.hole import Bytes
from filmhand.artwork.whole_avif import boxes

# Where properties stand: ISO/IEC 14496-12 section 8.11; `av1C`: AV1 in ISOBMFF section 2.3; `colr`: ISO/IEC 14496-12
# section 12.1.5.
_WAY: Final = (b"meta", b"iprp", b"ipco")
_HIGH, _TWELVE = 0x40, 0x20

# ITU-T H.273 tables 2 and 3.
_UNSAID: Final = 2
_BT709: Final = 1
_SRGB: Final = 13
_PQ, _HLG = 16, 18


@dataclass(frozen=True)
class AvifFacts:
    """`primaries`, `transfer`: code points of ITU-T H.273; 2 where the file does not say."""

    bits: int = 8
    primaries: int = _UNSAID
    transfer: int = _UNSAID

    @property
    def says_srgb(self) -> bool:
        """Whether the code points are those of sRGB."""
        return (self.primaries, self.transfer) == (_BT709, _SRGB)

    @property
    def is_beyond_srgb(self) -> bool:
        """Whether the colours are those of a screen with more of them, or of more light."""
        return self.primaries not in (_BT709, _UNSAID) or self.transfer in (_PQ, _HLG)


def facts_of_avif(data: Bytes) -> AvifFacts:
    """The first picture's facts; defaults where the file does not say."""
    bits, primaries, transfer = 8, _UNSAID, _UNSAID
    try:
        start, stop = 0, len(data)
        for name in _WAY:
            start, stop = next((first, end) for found, first, end in boxes(data, start, stop) if found == name)
            start += 4 if name == b"meta" else 0  # a full box: version and flags first
        for name, first, _ in reversed(list(boxes(data, start, stop))):
            if name == b"av1C":
                flags = data[first + 2]
                bits = (12 if flags & _TWELVE else 10) if flags & _HIGH else 8
            elif name == b"colr" and data[first : first + 4] == b"nclx":
                primaries, transfer = struct.unpack(">HH", data[first + 4 : first + 8])
    except (struct.error, StopIteration, IndexError):
        pass
    return AvifFacts(bits, primaries, transfer)
