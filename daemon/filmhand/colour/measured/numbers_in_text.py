"""Numbers as instruments write them, with a decimal point or a decimal comma."""

import math
import re
from collections.abc import Sequence
from typing import Final

import numpy as np

from filmhand.colour.measured.readings import Floats
from filmhand.colour.measured.unusable import UnusableChartError

_NUMBER: Final = re.compile(r"[-+]?(\d+([.,]\d*)?|[.,]\d+)(e[-+]?\d+)?", re.IGNORECASE | re.ASCII)


def number(text: str) -> float | None:
    """The number, or None where the text is not one: a dash, "n/a" and "NaN" are not, nor is what no float can hold."""
    value = float(text.replace(",", ".")) if _NUMBER.fullmatch(text) else math.inf
    return value if math.isfinite(value) else None


def numbers(texts: Sequence[str], *, what: str, names: Sequence[str]) -> Floats:
    """A column (m,) of numbers; UnusableChartError names the patch (`names`, m of them) whose `what` is none."""
    values = [number(text) for text in texts]
    if None in values:
        row = values.index(None)
        raise UnusableChartError(
            f"Patch {names[row]} has {texts[row]!r} for {what}, which is not a number",
            next_step="Measure that patch again, or take its row out",
        )
    return np.array(values, dtype=np.float64)
