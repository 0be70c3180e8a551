"""Illuminant and observer that a file names: tristimulus values serve only under D50 for 2°."""

import re
from typing import Final

from filmhand.colour.measured.unusable import UnusableChartError

_DAYLIGHT: Final = re.compile(r"\bD[ _-]?(\d\d)(?:00)?(?!\d)", re.IGNORECASE)
_OTHER_LIGHT: Final = re.compile(r"(CIE )?(illuminant )?(A|B|C|E|F[ _]?\d+|FL[ _]?\d+|TL[ _]?\d+)", re.IGNORECASE)
_LARGE_FIELD: Final = re.compile(r"(?<![\d.])10(?![\d])|1964")
_D50: Final = "50"


def refuse_other_conditions(*, illuminant: str, observer: str) -> None:
    """UnusableChartError if the words name another illuminant than D50 or the 10° observer; what they do not name is let pass.

    Turning colours seen under one light into those under another is a guess, as a spectrum has more to it than three numbers.
    """
    daylight = _DAYLIGHT.search(illuminant)
    if (daylight and daylight[1] != _D50) or _OTHER_LIGHT.fullmatch(illuminant.strip()):
        _refuse(f"illuminant {illuminant.strip()}")
    if _LARGE_FIELD.search(observer):
        _refuse("the 10 degree observer")


def _refuse(condition: str) -> None:
    raise UnusableChartError(
        f"The colours in this file are for {condition}, and only D50 with the 2 degree observer can be used",
        next_step="Export again with D50 and 2 degree, or with spectral values, which fit every condition",
    )
