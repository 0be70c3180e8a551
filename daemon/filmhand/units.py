"""Lengths, times and resolutions: the only home of 25.4, and of text such as "0.15 mm" or "45 min"."""

import re
from datetime import time
from typing import Final

MM_PER_INCH: Final = 25.4
MM2_PER_M2: Final = 1e6
POINTS_PER_INCH: Final = 72.0  # PostScript and PDF point, ISO 32000-2 section 8.3.2.3

_MM: Final = {
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "in": MM_PER_INCH,
    '"': MM_PER_INCH,
    "pt": MM_PER_INCH / POINTS_PER_INCH,
}
_SECONDS: Final = {"s": 1.0, "min": 60.0, "h": 3600.0, "d": 86400.0}
_QUANTITY: Final = re.compile(r"\s*(\d+(?:[.,]\d+)?)\s*([a-zA-Z\"]+)\s*")
_CLOCK: Final = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)")


def mm_to_px(mm: float, ppi: float) -> float:
    """Pixels (fractional) that a length covers at a resolution."""
    return mm * ppi / MM_PER_INCH


def px_to_mm(px: float, ppi: float) -> float:
    """Length in mm of a number of pixels at a resolution."""
    return px * MM_PER_INCH / ppi


def ppi_of(px: float, mm: float) -> float:
    """Pixels an inch when `px` pixels are printed over `mm`."""
    return px * MM_PER_INCH / mm


def parse_length_mm(text: object) -> float:
    """Millimetres from text with a unit: "0.15 mm", "28 cm", "3 m", "22 in", "0.4 pt". ValueError says what is expected."""
    return _parse(text, _MM, 'a length with its unit, such as "0.15 mm", "22 in" or "3 m"')


def parse_seconds(text: object) -> float:
    """Seconds from text with a unit: "3 s", "45 min", "2 h", "14 d". ValueError says what is expected."""
    return _parse(text, _SECONDS, 'a time with its unit, such as "3 s", "45 min" or "2 h"')


def parse_clock(text: object) -> time:
    """A time of day from "22:00". ValueError says what is expected."""
    match = _CLOCK.fullmatch(text.strip()) if isinstance(text, str) else None
    if match is None:
        raise ValueError(f'expected a time of day such as "22:00", not {text!r}')
    return time(int(match[1]), int(match[2]))


def _parse(text: object, units: dict[str, float], expected: str) -> float:
    match = _QUANTITY.fullmatch(text) if isinstance(text, str) else None
    factor = units.get(match[2] if match[2] == '"' else match[2].lower()) if match else None
    if match is None or factor is None:
        raise ValueError(f"expected {expected}, not {text!r}")
    return float(match[1].replace(",", ".")) * factor
