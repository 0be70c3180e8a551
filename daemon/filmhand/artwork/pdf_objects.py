"""Looking into a PDF's objects, of which none need be what the standard says: what is amiss reads as nothing."""

import math
from decimal import Decimal
from typing import Any, Final

import pikepdf

READING_ERRORS: Final = (pikepdf.PdfError, pikepdf.DataDecodingError, ValueError, TypeError, AttributeError, LookupError)
"""What reading a malformed PDF may raise in qpdf or in its Python side."""

Key = tuple[int, int]
"""Number and generation of an object."""


def entry(holder: Any, *path: Any) -> Any:
    """The value at a path of keys ("/Resources", "/Font") through dictionaries and streams; None where it does not lead on."""
    for key in path:
        is_holder = isinstance(holder, pikepdf.Dictionary | pikepdf.Stream)
        if not is_holder or not isinstance(key, str | pikepdf.Name):
            return None
        holder = holder.get(key)
    return holder


def items(value: Any) -> list[Any]:
    """An array's elements; nothing of anything else."""
    return list(value) if isinstance(value, pikepdf.Array) else []


def pairs(value: Any) -> list[tuple[str, Any]]:
    """A dictionary's or a stream's keys, with their slashes, and values; nothing of anything else."""
    return [(key, value.get(key)) for key in value.keys()] if isinstance(value, pikepdf.Dictionary | pikepdf.Stream) else []  # noqa: SIM118


def name(value: Any) -> str:
    """A name without its slash; an empty text of anything else."""
    if not isinstance(value, pikepdf.Name):
        return ""
    written = bytes(value)[1:]
    try:
        return written.decode("utf-8")  # ISO 32000-2 section 7.3.5
    except UnicodeDecodeError:
        return written.decode("latin-1")


def text(value: Any) -> str:
    """A string in one line, control characters left out and cut to what a note can bear; an empty text of anything else."""
    return printable(str(value)) if isinstance(value, pikepdf.String) else ""


def printable(value: str) -> str:
    """Text that can stand in a note: what cannot be written is left out, and what is long is cut."""
    kept = "".join(letter for letter in value if letter.isprintable()).strip()
    return kept if len(kept) <= _LONGEST else kept[: _LONGEST - 1] + "…"


def number(value: Any, default: float) -> float:
    """A finite number; the default of anything else."""
    if isinstance(value, bool) or not isinstance(value, int | float | Decimal):
        return default
    return float(value) if abs(float(value)) < _GREATEST else default


def box(value: Any) -> tuple[float, float, float, float] | None:
    """A rectangle (ISO 32000-2 section 7.9.5) as left, bottom, right, top; None of anything else, and of an empty one."""
    sides = [number(side, math.nan) for side in items(value)[:4]]
    if len(sides) < 4 or any(math.isnan(side) for side in sides):  # noqa: PLR2004 -- four sides
        return None
    left, right = sorted(sides[0::2])
    bottom, top = sorted(sides[1::2])
    return (left, bottom, right, top) if right > left and top > bottom else None


def key_of(value: Any) -> Key:
    """What tells an object of the file from others; (0, 0) for all that are written in place."""
    key: Key = value.objgen if isinstance(value, pikepdf.Object) else (0, 0)
    return key


_LONGEST: Final = 60
_GREATEST: Final = 1e9
