"""Holes: stretches of a file that were reserved on disk and never written.

A copy over a network may set a file's final size first and fill it afterwards; cut off, it leaves zeros from one block boundary
to another, or to the end. Pictures hold zeros of their own, but those do not begin and end on block boundaries.
"""

import mmap
import re
from typing import Final

Bytes = bytes | mmap.mmap
"""A file's contents: bytes, or a map of the file. Both have `find` and can be sliced; a map is never copied whole."""

BLOCK: Final = 512
"""The smallest unit that disks and network shares write: common practice, no source."""

_RUN: Final = re.compile(rb"\x00{512,}")


def hole_in(data: Bytes, start: int, stop: int, *, block: int = BLOCK) -> tuple[int, int] | None:
    """The first hole within data[start:stop]: where it begins and ends. None if there is none.

    A hole is a run of zeros that holds a whole block, begins at a block boundary and ends at one or at the end of the file.
    The byte before and the byte after are not zero, so by chance one long run of zeros in a quarter million looks like this.
    """
    for run in _RUN.finditer(data, start, stop):
        begin, end = run.span()
        if end - begin >= block and begin % block == 0 and (end % block == 0 or end == len(data)):
            return begin, end
    return None


def zeros_at_end(data: Bytes, start: int, stop: int) -> int:
    """How many zero bytes data[start:stop] ends with."""
    step = 1 << 16
    position = stop
    while position > start:
        begin = max(start, position - step)
        kept = data[begin:position].rstrip(b"\0")
        if kept:
            return stop - (begin + len(kept))
        position = begin
    return stop - start
