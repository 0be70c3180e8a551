"""Percent or fractions of 1: files have light either way, and often do not say which."""

from typing import Final

import numpy as np

from filmhand.colour.measured.readings import Floats

_LARGEST_FRACTION: Final = 2.0
"""Above what any print sends back as a fraction of 1, and below what white, or any light patch, is in percent."""


def as_fractions(values: Floats) -> Floats:
    """Reflectances or XYZ of a whole file, of any shape, with 1 = perfect white diffuser. A file with dark patches only, in
    percent, would be taken amiss; a chart has its white."""
    return np.asarray(values if values.max(initial=0) < _LARGEST_FRACTION else values / 100)
