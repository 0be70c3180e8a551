"""Whether a PDF is whole: it ends in its end mark, and the cross-reference is where the end says.

Renderers rebuild a PDF that was cut short from what is left of it and say nothing, so opening proves nothing. A PDF may be
updated by adding to its end; cut exactly before an update it is, byte for byte, the PDF of before, and nothing in it tells.
"""

import re
from typing import Final

from filmhand.artwork.hole import Bytes, hole_in
from filmhand.words import Phrase

_TAIL: Final = 1024
"""The end mark must lie in the last 1024 bytes: ISO 32000-1 Annex H.3 note 18 (implementation note), from memory."""

_BLOCK: Final = 4096
"""PDFs hold uncompressed data more often than pictures do, so only a hole of a whole page of memory counts."""

_START: Final = re.compile(rb"startxref\s+(\d+)\s+%%EOF")
_TABLE: Final = re.compile(rb"\s*(xref\b|\d+\s+\d+\s+obj\b)")  # ISO 32000-2 sections 7.5.4 and 7.5.8
_LINEARIZED: Final = re.compile(rb"/Linearized\b")
_LENGTH: Final = re.compile(rb"/L\s+(\d+)")

_MORE: Final = re.compile(rb"[\s\0]*[0-9%x]")
"""What an update of a PDF begins with (ISO 32000-2 section 7.5.6): an object, a comment, or the cross-reference."""

_NO_END: Final = Phrase("stops before its end mark")
_NO_TABLE: Final = Phrase("has lost its table of contents (cross-reference)")
_UPDATE: Final = Phrase("goes on after its end mark and then stops")
_EMPTY: Final = Phrase("has a stretch of nothing in the middle")


def fault_of_pdf(data: Bytes) -> Phrase | None:
    """What is wrong with a PDF file's structure, as a clause; None if it is whole."""
    base = max(0, data.find(b"%PDF-"))
    tail = data[max(0, len(data) - _TAIL) :]
    ends = list(_START.finditer(tail))
    if not ends or _is_shorter_than_it_says(data, base):
        return _NO_END
    if _MORE.match(tail, ends[-1].end()):
        return _UPDATE
    start = int(ends[-1][1])
    # Offsets count from the header; where something stands before it, some writers count from the file's first byte.
    if not any(_TABLE.match(data[place : place + 64]) for place in {start, base + start}):
        return _NO_TABLE
    return _EMPTY if hole_in(data, 0, len(data), block=_BLOCK) is not None else None


def _is_shorter_than_it_says(data: Bytes, base: int) -> bool:
    """A linearized file states its length at the front (ISO 32000-2 Annex F.3.3), and has an end mark there too."""
    head = data[base : base + 1024]
    length = _LENGTH.search(head)
    return _LINEARIZED.search(head) is not None and length is not None and int(length[1]) > len(data) - base
