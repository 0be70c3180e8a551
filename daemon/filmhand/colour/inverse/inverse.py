"""The inverse of an ink model, by the colour rules: what every model's `exact_inks_for` and `settled` do."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.expense import Expense
from filmhand.colour.inverse.black import wanted_black
from filmhand.colour.inverse.nearest import nearest_inks
from filmhand.colour.inverse.printable import Printable
from filmhand.colour.inverse.settle import Nodes, Sparing, settled
from filmhand.colour.inverse.spare import dot_contrasts
from filmhand.rules import BlackGeneration, ColourRules, Ink

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Inverse:
    """What a printer can print, and what its inks cost."""

    printable: Printable
    expense: Expense

    def exact(self, xyz: Floats, rules: ColourRules, *, start: Floats | None = None) -> Floats:
        """Inks (..., k) for XYZ (..., 3): exact where printable, else the nearest with the hue kept; no tolerance is spent.

        K as the rules' black generation has it, or that of a start (..., k), where the search then begins.
        """
        flat = np.ascontiguousarray(xyz.reshape(-1, 3))
        if start is None:
            black = wanted_black(flat, rules.black, darkest=self.printable.darkest)
        else:
            start = start.reshape(len(flat), start.shape[-1])
            black = np.ascontiguousarray(start[:, self.printable.inks.index(Ink.BLACK)])
        inks = nearest_inks(flat, self.printable, limit=rules.ink_limit / 100, black=black, start=start)
        return inks.reshape(*xyz.shape[:-1], len(self.printable.inks))

    def settled(self, inks: Floats, nodes: Nodes, rules: ColourRules) -> Floats:
        """Exact inks (r, g, b, k) over a grid, with the tolerance spent, and made smooth from node to node."""
        sparing = None
        if rules.black is BlackGeneration.LEAST_INK:
            sparing = Sparing(rules.tolerance, self.expense.costs(rules.spare), self._contrasts, rules.smooth_tones)
        return settled(inks, nodes, self.printable, limit=rules.ink_limit / 100, sparing=sparing)

    @cached_property
    def _contrasts(self) -> Floats:
        """Contrast (k,) of each ink's dots."""
        result = np.zeros(len(self.printable.inks))
        for places, colours in zip(self.printable.sectors, self.printable.colours, strict=True):
            for i, place in enumerate(places):
                result[place] = dot_contrasts(colours[None, (self.printable.steps - 1) * self.printable.steps**i])[0]
        return result
