"""The fitted inks with their inverse, as the report asks for it."""

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.black_point import compensated, neutral
from filmhand.colour.expense import Expense
from filmhand.colour.fitted.model import FittedInks
from filmhand.colour.inverse.inverse import Inverse
from filmhand.colour.inverse.printable import Printable
from filmhand.colour.inverse.settle import Nodes
from filmhand.rules import ColourRules

Floats = NDArray[np.float64]

_STEPS: Final = 9


@dataclass(frozen=True, eq=False)
class FittedModel:
    """An `InkModel` of fitted inks."""

    fitted: FittedInks
    expense: Expense
    is_nominal: bool = False

    @property
    def inks(self) -> tuple[str, ...]:
        """Letters, in print order."""
        return self.fitted.inks

    @property
    def yule_nielsen(self) -> float:
        """The halftones' factor."""
        return self.fitted.yule_nielsen

    @property
    def digest(self) -> str:
        """Of the fitted inks."""
        return self.fitted.digest

    def xyz(self, inks: Floats) -> Floats:
        """XYZ (..., 3) of ink amounts (..., k)."""
        return self.fitted.xyz(inks)

    def inks_for(self, xyz: Floats, rules: ColourRules) -> Floats:
        """Ink amounts (..., k), a black of 0 moved to the darkest gray."""
        if rules.black_point_compensation:
            darkest = neutral(self.xyz(self.exact_inks_for(np.zeros(3), rules)))
            xyz = compensated(xyz, black=np.zeros(3), to=darkest)
        return self.exact_inks_for(xyz, rules)

    def exact_inks_for(self, xyz: Floats, rules: ColourRules) -> Floats:
        """Ink amounts (..., k)."""
        return self._inverse.exact(xyz, rules)

    def settled(self, inks: Floats, nodes: Nodes, rules: ColourRules) -> Floats:
        """Ink amounts (r, g, b, k)."""
        return self._inverse.settled(inks, nodes, rules)

    @cached_property
    def _inverse(self) -> Inverse:
        return Inverse(Printable.of(self.xyz, inks=self.inks, n=self.yule_nielsen, steps=_STEPS), self.expense)
