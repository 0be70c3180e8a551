"""Cells of a spreadsheet as a ticket file would have them: counts, lengths, dates. Pure.

What cannot be one stays as it is written, and is refused where the ticket is made. Nothing is evaluated, whatever sign it starts
with.
"""

import re
from datetime import datetime
from typing import Final

UNITS: Final = {
    **dict.fromkeys(("mm", "millimeter", "millimetre", "milimetros"), "mm"),
    **dict.fromkeys(("cm", "centimeter", "centimetre", "zentimeter", "centimetros"), "cm"),
    **dict.fromkeys(("in", "inch", "inches", "zoll", "pulgadas", '"', "''", "″", "”"), "in"),
}
"""What a unit may be called."""

_YES: Final = {"yes", "y", "true", "x", "1", "ja", "j", "sí", "si", "s"}
_NO: Final = {"no", "n", "false", "-", "0", "nein"}
_KEPT_AS_TEXT: Final = re.compile(r'="(.*)"', re.DOTALL)
_COUNT: Final = re.compile(r"([0-9]{1,3}(?:([.,'’\s])[0-9]{3}(?:\2[0-9]{3}){0,3})|[0-9]{1,12})(?:[.,]0+)?")
_LENGTH: Final = re.compile(r"([0-9]+(?:[.,][0-9]+)?)\s*(\D*)")
_DAY_FIRST: Final = re.compile(r"(\d{1,2})([./-])(\d{1,2})\2(\d{4}|\d\d),?(?:\s+(\d{1,2}:\d\d))?(?::\d\d)?")


def plain(cell: str) -> str:
    """A cell's text without what spreadsheets put there to keep it so: `="007"`, an apostrophe before a number or a sign."""
    text = cell.strip(" \t\r\n\u00a0\ufeff")
    if kept := _KEPT_AS_TEXT.fullmatch(text):
        return kept[1].replace('""', '"').strip()
    return text[1:] if re.match(r"'[=+@\d-]", text) else text


def count(text: str) -> int | str:
    """A whole number: "12", "12.0", "1.200", "1,200.00". A mark before three digits parts thousands: nobody orders 1.2 copies."""
    match = _COUNT.fullmatch(text)
    return int(re.sub(r"[^0-9]", "", match[1])) if match else text


def length(text: str, unit: str) -> str:
    """A length with its unit: its own, else `unit`, which the column's heading states. Its mark is always a decimal mark."""
    match = _LENGTH.fullmatch(text)
    if match is None:
        return text
    written = match[2].strip().rstrip(".").casefold()
    known = UNITS.get(written, written) or unit
    return f"{match[1]} {known}" if known else text


def due(text: str) -> str:
    """A date: `2031-03-14` as it is; the day first in `14.3.2031`, `14/3/2031`, `14-3-31`; with a time or without."""
    match = _DAY_FIRST.fullmatch(text)
    if match is None:
        return text
    day, month, year = int(match[1]), int(match[3]), int(f"20{match[4]}"[-4:])
    try:
        date = datetime(year, month, day)  # noqa: DTZ001 -- the shop's own time, as written
    except ValueError:
        return text
    return f"{date:%Y-%m-%d}T{match[5]:0>5}" if match[5] else f"{date:%Y-%m-%d}"


def yes_or_no(text: str) -> bool | str:
    """Whether a cell says yes: "yes", "x", "1", "ja", "sí", or no: "no", "0", "nein"."""
    word = text.strip().casefold()
    return word in _YES if word in _YES | _NO else text
