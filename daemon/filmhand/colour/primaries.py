"""An ink model made of printed primaries: Neugebauer's forward, and its inverse in C, M, Y and K."""

import hashlib
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from filmhand.colour import inverse, neugebauer
from filmhand.colour.black_point import compensated, neutral
from filmhand.colour.inverse import Bounds
from filmhand.rules import ColourRules, Ink

Floats = NDArray[np.float64]

_CMYK = (Ink.CYAN, Ink.MAGENTA, Ink.YELLOW, Ink.BLACK)


@dataclass(frozen=True, eq=False)
class PrimariesModel:
    """An `InkModel` over the 2^k overprints of k inks on film white.

    `primaries`: (2^k, 3) XYZ (D50), relative to film white, in `neugebauer.demichel`'s order of `inks`.
    Inks besides C, M, Y and K are known to `xyz` only: `inks_for` leaves them at 0.
    """

    inks: tuple[str, ...]
    primaries: Floats
    yule_nielsen: float
    is_nominal: bool

    @cached_property
    def digest(self) -> str:
        """SHA-256 of inks, primaries and factor."""
        facts = f"primaries {self.inks} {self.yule_nielsen!r}".encode()
        return hashlib.sha256(facts + self.primaries.tobytes()).hexdigest()

    def xyz(self, inks: Floats) -> Floats:
        """XYZ (..., 3) of ink amounts (..., k), 0 to 1."""
        return neugebauer.mixed(inks, primaries=self.primaries, n=self.yule_nielsen)

    def inks_for(self, xyz: Floats, rules: ColourRules) -> Floats:
        """Ink amounts (..., k) for XYZ (..., 3): exact in gamut, else the nearest with the hue kept as well as possible.

        Where the rule wants black point compensation, a source black of 0 becomes the darkest gray these inks can print.
        The four intents give the same: there is one gamut mapping.
        """
        flat = xyz.reshape(-1, 3)
        if rules.black_point_compensation:
            darkest = neutral(self.xyz(self._solved(np.zeros((1, 3)), rules))[0])
            flat = compensated(flat, black=np.zeros(3), to=darkest)
        return self._solved(flat, rules).reshape(*xyz.shape[:-1], len(self.inks))

    def _solved(self, xyz: Floats, rules: ColourRules) -> Floats:
        bounds = Bounds(rules.ink_limit / 100, rules.black, Ink.BLACK in self.inks)
        cmyk = inverse.inks_for(xyz, primaries=self._cmyk_primaries, n=self.yule_nielsen, bounds=bounds)
        result = np.zeros((len(xyz), len(self.inks)))
        for column, ink in enumerate(_CMYK):
            if ink in self.inks:
                result[:, self.inks.index(ink)] = cmyk[:, column]
        return result

    @cached_property
    def _cmyk_primaries(self) -> Floats:
        """(16, 3): the overprints of C, M, Y and K alone; without black ink, K changes nothing."""
        bits = [1 << self.inks.index(ink) if ink in self.inks else 0 for ink in _CMYK]
        chosen = [sum(bit for i, bit in enumerate(bits) if overprint >> i & 1) for overprint in range(16)]
        return np.ascontiguousarray(self.primaries[chosen])
