"""Whether a JPEG is whole: every segment there, entropy-coded data without holes, and the end marker.

Decoders fill what is missing with grey and say nothing, so decoding proves nothing.
"""

import re
from dataclasses import dataclass, field
from typing import Final

from filmhand.artwork.hole import Bytes, hole_in
from filmhand.words import Phrase

# Marker codes of ITU-T T.81 table B.1.
_EOI, _SOS, _DHT = 0xD9, 0xDA, 0xC4
_ALONE: Final = frozenset((0x01, *range(0xD0, 0xD8)))  # TEM and RSTm: no length follows
_ARITHMETIC: Final = frozenset((0xC9, 0xCA, 0xCB, 0xCD, 0xCE, 0xCF))

# In entropy-coded data 0xFF is followed by 0 (a stuffed byte), a restart marker or fill bytes; else a marker ends it (B.1.1.5).
_NEXT_MARKER: Final = re.compile(rb"\xff[^\x00\xff\xd0-\xd7]", re.DOTALL)
_ZEROS: Final = bytes(64)
_LENGTH_BYTES: Final = 2  # a segment's length counts itself


@dataclass
class _State:
    """What has been seen: for each Huffman table (class and number), the symbol whose code is all zero bits."""

    zero_symbol: dict[int, int] = field(default_factory=dict)
    is_arithmetic: bool = False
    has_scan: bool = False


def fault_of_jpeg(data: Bytes, start: int = 0, stop: int | None = None) -> Phrase | None:
    """What is wrong with a JPEG stream's structure, as a clause; None if it is whole. Bytes after the end are let be."""
    stop = len(data) if stop is None else stop
    state = _State()
    position = start + 2
    while True:
        code, begin, end = _segment(data, position, stop)
        if code == _EOI:
            return None if state.has_scan else Phrase("holds no picture")
        if code is None or end > stop:
            return (
                Phrase("stops in the middle of a part") if end > stop else Phrase("has something else where a part should begin")
            )
        body = bytes(data[begin:end])
        state.is_arithmetic |= code in _ARITHMETIC
        if code == _DHT:
            _note_tables(body, state)
        if code == _SOS:
            marker = _NEXT_MARKER.search(data, end, stop)
            if marker is None:
                return Phrase("stops before its end mark")
            if _has_hole(data, (end, marker.start()), body, state):
                return Phrase("has a stretch of nothing in the middle of the picture")
            state.has_scan = True
            end = marker.start()
        position = end


def _segment(data: Bytes, position: int, stop: int) -> tuple[int | None, int, int]:
    """The marker code at a position, and where what follows it begins and ends; no code where there is no marker."""
    while data[position : position + 2] == b"\xff\xff":  # fill bytes
        position += 1
    if position + 2 > stop:
        return None, position, stop + 1
    if data[position : position + 1] != b"\xff":
        return None, position, position
    code, begin = data[position + 1], position + 2
    if code in _ALONE or code == _EOI:
        return code, begin, begin
    length = int.from_bytes(data[begin : begin + 2], "big")
    is_broken = begin + 2 > stop or length < _LENGTH_BYTES
    return code, begin + 2, stop + 1 if is_broken else begin + length


def _note_tables(body: bytes, state: _State) -> None:
    """Read Huffman tables (T.81 section B.2.4.2). The shortest code is all zeros and belongs to the first symbol."""
    position = 0
    while position + 17 <= len(body):
        count = sum(body[position + 1 : position + 17])
        if count:
            state.zero_symbol[body[position]] = body[position + 17] if position + 17 < len(body) else 0
        position += 17 + count


def _has_hole(data: Bytes, span: tuple[int, int], scan: bytes, state: _State) -> bool:
    """Whether a scan's data has zeros that no encoder writes.

    Where the zero code of every table used says "nothing here" (its size bits are 0), a flat area is a run of zeros; there only
    a run between two block boundaries of a disk is taken for a hole. Any other zero code makes a long run of zeros impossible.
    """
    components = scan[0] if scan else 0
    if len(scan) < 4 + 2 * components:
        return False
    first_coefficient, is_refinement = scan[1 + 2 * components], scan[3 + 2 * components] >> 4 != 0
    tables = scan[2 : 2 + 2 * components : 2]
    used = [table >> 4 for table in tables] if first_coefficient == 0 else []
    used += [0x10 | (table & 0x0F) for table in tables] if first_coefficient > 0 or scan[2 + 2 * components] > 0 else []
    zeros_mean_flat = all(state.zero_symbol.get(table, 0) & 0x0F == 0 for table in used)
    if state.is_arithmetic or is_refinement or zeros_mean_flat:
        return hole_in(data, *span) is not None
    return data.find(_ZEROS, *span) >= 0
