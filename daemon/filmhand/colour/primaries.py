"""An ink model made of printed primaries: Neugebauer's forward, and its inverse in C, M, Y and K."""

import hashlib
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from filmhand.colour import neugebauer
from filmhand.colour.black_point import compensated, neutral
from filmhand.colour.inverse import Printable, nearest_inks, wanted_black
from filmhand.rules import ColourRules, Ink

Floats = NDArray[np.float64]

_CMYK = (Ink.CYAN, Ink.MAGENTA, Ink.YELLOW, Ink.BLACK)


@dataclass(frozen=True, eq=False)
class PrimariesModel:
    """An `InkModel` over the 2^k overprints of k inks on film white.

    `primaries`: (2^k, 3) XYZ (D50), relative to film white, in `neugebauer.demichel`'s order of `inks`.
    Inks besides C, M, Y and K are known to `xyz` only: the inverse leaves them at 0.
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
        """Ink amounts (..., k) for XYZ (..., 3), as `exact_inks_for`.

        Where the rule wants black point compensation, a source black of 0 becomes the darkest gray these inks can print.
        The four intents give the same: there is one gamut mapping.
        """
        if rules.black_point_compensation:
            darkest = neutral(self.xyz(self.exact_inks_for(np.zeros(3), rules)))
            xyz = compensated(xyz, black=np.zeros(3), to=darkest)
        return self.exact_inks_for(xyz, rules)

    def exact_inks_for(self, xyz: Floats, rules: ColourRules) -> Floats:
        """Ink amounts (..., k) for XYZ (..., 3): exact in gamut, else the nearest with the hue kept as well as possible."""
        flat = np.ascontiguousarray(xyz.reshape(-1, 3))
        printable = Printable(self._cmyk_primaries, self.yule_nielsen, rules.ink_limit / 100, Ink.BLACK in self.inks)
        black = wanted_black(flat, rules.black, darkest=self._cmyk_primaries.min(axis=0))
        cmyk = nearest_inks(flat, printable, black=black)
        result = np.zeros((len(flat), len(self.inks)))
        for column, ink in enumerate(_CMYK):
            if ink in self.inks:
                result[:, self.inks.index(ink)] = cmyk[:, column]
        return result.reshape(*xyz.shape[:-1], len(self.inks))

    @cached_property
    def _cmyk_primaries(self) -> Floats:
        """(16, 3): the overprints of C, M, Y and K alone; without black ink, K changes nothing."""
        bits = [1 << self.inks.index(ink) if ink in self.inks else 0 for ink in _CMYK]
        chosen = [sum(bit for i, bit in enumerate(bits) if overprint >> i & 1) for overprint in range(16)]
        return np.ascontiguousarray(self.primaries[chosen])
