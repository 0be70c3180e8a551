"""The QR code of a label: what it says, and its modules.

It says `JOB;COPY/COPIES;ORDER`, such as `k7mq2xhd;2/5;SO-1047`; of a design in pieces `JOB;COPY/COPIES+PART/PARTS;ORDER`. The
order stands last and may hold any sign, semicolons too. Text that is not ASCII is UTF-8, and the code says so (ECI 26).
"""

from functools import lru_cache
from typing import Final

import numpy as np
import segno
from numpy.typing import NDArray

from filmhand.marks.lettering import ELLIPSIS

QUIET: Final = 4
"""Modules of quiet zone on every side: ISO/IEC 18004:2015, 6.3.8."""
LEAST_SIDE: Final = 21 + 2 * QUIET
"""Modules along a side of the smallest code (version 1), quiet zone included; each further version has four more (5.3)."""

_MASK: Final = 3
"""Any data mask can be read. The one of least penalty (7.8.3) takes fifty times as long to find as the code to make."""
_LEVELS: Final = ("M", "L")
"""Error correction, the better first: about 15 and 7 % of the code may be spoilt."""


def content(job: str, count: tuple[int, int], part: tuple[int, int], order: str) -> str:
    """What a label's code says. `count`: which copy of how many; `part`: which piece, 0 for the whole, of how many."""
    piece = f"+{part[0]}/{part[1]}" if part[0] else ""
    return f"{job};{count[0]}/{count[1]}{piece};{order}"


@lru_cache(maxsize=64)
def modules(text: str, most: int) -> NDArray[np.bool_] | None:
    """A code of at most `most` modules a side, quiet zone included: n×n bool, True = light.

    A text that is too long is cut, with an ellipsis; None where there is no room for any code.
    """
    version = (most - LEAST_SIDE) // 4 + 1
    code = _made(text, version)
    low, high = 0, len(text) - 1
    while code is None and low < high:  # the longest start that has room
        middle = (low + high + 1) // 2
        low, high = (middle, high) if _made(text[:middle] + ELLIPSIS, version) is not None else (low, middle - 1)
    return _made(text[:low] + ELLIPSIS, version) if code is None and low else code


def _made(text: str, version: int) -> NDArray[np.bool_] | None:
    """The smallest code up to a version, at the better level of correction if that has room; or None."""
    if version < 1:
        return None
    encoding = None if text.isascii() else "utf-8"
    for level in _LEVELS:
        try:
            code = segno.make_qr(text, error=level, mask=_MASK, encoding=encoding, eci=encoding is not None)
        except segno.DataOverflowError:
            continue
        if int(code.version) <= version:
            return np.array([[not dark for dark in row] for row in code.matrix_iter(border=QUIET)], np.bool_)
    return None
