"""An ink model made of printed primaries: Neugebauer's forward, and its inverse by hue sectors."""

import hashlib
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from filmhand.colour import neugebauer
from filmhand.colour.black_point import compensated, neutral
from filmhand.colour.expense import Expense
from filmhand.colour.inverse.inverse import Inverse
from filmhand.colour.inverse.printable import Printable
from filmhand.colour.inverse.settle import Nodes
from filmhand.rules import ColourRules

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class PrimariesModel:
    """An `InkModel` over the 2^k overprints of k inks on film white.

    `primaries`: (2^k, 3) XYZ (D50), relative to film white, in `neugebauer.demichel`'s order of `inks`.
    `expense`: what the inks cost beside one another; None: all the same.
    """

    inks: tuple[str, ...]
    primaries: Floats
    yule_nielsen: float
    is_nominal: bool
    expense: Expense | None = None

    @cached_property
    def digest(self) -> str:
        """SHA-256 of inks, primaries, factor and expense."""
        facts = f"primaries {self.inks} {self.yule_nielsen!r} {self.expense!r}".encode()
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
        return self._inverse.exact(xyz, rules)

    def settled(self, inks: Floats, nodes: Nodes, rules: ColourRules) -> Floats:
        """Ink amounts (r, g, b, k) of `nodes` made smooth, and the tolerance of least ink spent on them."""
        return self._inverse.settled(inks, nodes, rules)

    @cached_property
    def _inverse(self) -> Inverse:
        printable = Printable.of(self.xyz, inks=self.inks, n=self.yule_nielsen, steps=2)
        return Inverse(printable, self.expense or Expense.even(len(self.inks)))
