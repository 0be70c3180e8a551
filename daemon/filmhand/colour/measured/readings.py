"""Patches of a printed chart and the colours an instrument saw on them."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Spectra:
    """Reflectances (m, w), 1 = perfect white diffuser, at wavelengths (w,) in nm, rising and evenly spaced."""

    wavelengths: Floats
    reflectances: Floats


@dataclass(frozen=True, eq=False)
class Readings:
    """What was printed and what was seen, a row a patch.

    `inks`: letters, in the order of the columns of `amounts` (m, k), 0 to 1 of full ink as sent to the printer. White is among
    them only where its amount varies; else the patches lie on full white. `xyz`: (m, 3), illuminant D50, 2° observer, Y 1 =
    perfect white diffuser (absolute). `names`: what the chart calls each patch.
    """

    inks: tuple[str, ...]
    names: tuple[str, ...]
    amounts: Floats
    xyz: Floats
    spectra: Spectra | None = None
