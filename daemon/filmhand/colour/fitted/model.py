"""The ink model fitted to a chart: halftones of measured solids, and on them a smooth surface of what these miss.

The halftone model is physics and holds everywhere, to about one ΔE00. The surface, in CIELAB over the inks' tones, carries
the rest where patches are near; far from all patches it is 0. docs/decisions/0007-ink-model.md has the measurements behind it.
"""

import hashlib
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.cielab import D50_WHITE, lab_from_xyz, xyz_from_lab
from filmhand.colour.fitted.halftones import Halftones
from filmhand.colour.fitted.kriging import Kriging

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class FittedInks:
    """From ink amounts to colour.

    `inks`: letters, in print order. `white` (3,): the film white's XYZ as measured (D50, Y 1 = perfect diffuser). `observer`
    (q, 3): from the halftones' channels to XYZ (D50) relative to film white. `rest`: CIELAB (3) over tones (k).
    """

    inks: tuple[str, ...]
    white: Floats
    halftones: Halftones
    observer: Floats
    rest: Kriging

    @classmethod
    def of_overprints(cls, inks: tuple[str, ...], overprints: Floats, *, n: float) -> "FittedInks":
        """Inks of which nothing is known but the XYZ (2^k, 3), relative to film white, of their overprints."""
        halftones = Halftones.straight(overprints / D50_WHITE, n=n)
        return cls(inks, D50_WHITE, halftones, np.diag(D50_WHITE), Kriging.nothing(len(inks), 3))

    @property
    def yule_nielsen(self) -> float:
        """The halftones' factor."""
        return self.halftones.n

    @cached_property
    def digest(self) -> str:
        """SHA-256 of every number."""
        facts = hashlib.sha256(f"fitted {self.inks} {self.halftones.n!r} {self.rest.reach!r}".encode())
        for numbers in (
            self.white,
            self.halftones.curves,
            self.halftones.overprints,
            self.observer,
            self.rest.points,
            self.rest.weights,
        ):
            facts.update(np.ascontiguousarray(numbers, np.float64).tobytes())
        return facts.hexdigest()

    @property
    def is_straight(self) -> bool:
        """Whether amounts mix without curves or a rest: the overprints alone then say all."""
        return not len(self.rest.points) and self.halftones.is_straight

    def xyz(self, inks: Floats) -> Floats:
        """XYZ (..., 3), D50, relative to film white, of ink amounts (..., k), 0 to 1."""
        amounts = np.ascontiguousarray(inks.reshape(-1, len(self.inks)), np.float64)
        lab = lab_from_xyz(self.halftones(amounts) @ self.observer) + self.rest(self.halftones.tones(amounts))
        return np.maximum(xyz_from_lab(lab), 0).reshape(*inks.shape[:-1], 3)

    def absolute_xyz(self, inks: Floats) -> Floats:
        """XYZ (..., 3) of ink amounts (..., k) as an instrument measures it: Y 1 = perfect diffuser."""
        return self.xyz(inks) / D50_WHITE * self.white
