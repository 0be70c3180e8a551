"""The ink model of a printer whose solids are known: forward from measured or invented overprints, and back within its gamut."""

import hashlib
from dataclasses import dataclass, field
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.black_point import compensated
from filmhand.colour.expense import Expense
from filmhand.colour.fitted.model import FittedInks
from filmhand.colour.gamut_boundary import GamutBoundary, printable_boundary, srgb_boundary
from filmhand.colour.gamut_mapping import mapped
from filmhand.colour.gamut_space import xyz_from_lch
from filmhand.colour.inverse.inverse import Inverse
from filmhand.colour.inverse.printable import Printable
from filmhand.colour.inverse.settle import Nodes
from filmhand.colour.opacity import NOMINAL, Opacity
from filmhand.rules import ColourRules

Floats = NDArray[np.float64]

_STEPS: Final = 13
"""Steps of each ink at which the inverse asks the model: between them colours are within ΔE00 0.04 on the mean (measured)."""
_BLACK: Final = np.zeros(3)


@dataclass(frozen=True, eq=False)
class ChartedModel:
    """An `InkModel`.

    `forward`: from inks to colour. `expense`: what the inks cost beside one another; None: all the same. `is_nominal`: whether
    the solids are invented. `opacity`: how the white hides a garment, invented where nobody measured it.
    """

    forward: FittedInks
    expense: Expense | None = None
    is_nominal: bool = False
    opacity: Opacity = NOMINAL
    _reaches: dict[tuple[float, bool], "_Reach"] = field(default_factory=dict, repr=False)

    @property
    def inks(self) -> tuple[str, ...]:
        """Letters, in print order."""
        return self.forward.inks

    @property
    def yule_nielsen(self) -> float:
        """The halftones' factor."""
        return self.forward.yule_nielsen

    @property
    def film_white(self) -> Floats:
        """As measured; nominal film is as white as can be."""
        return self.forward.white

    @cached_property
    def digest(self) -> str:
        """SHA-256 of the forward model, the expense and the white."""
        return hashlib.sha256(f"charted {self.forward.digest} {self.expense!r} {self.opacity.digest}".encode()).hexdigest()

    @property
    def colours_digest(self) -> str:
        """SHA-256 of the forward model."""
        return self.forward.digest

    def xyz(self, inks: Floats) -> Floats:
        """XYZ (..., 3) of ink amounts (..., k), 0 to 1."""
        return self.forward.xyz(inks)

    def inks_for(self, xyz: Floats, rules: ColourRules) -> Floats:
        """Ink amounts (..., k) for XYZ (..., 3), brought into the gamut by the rules' intent.

        Where they want black point compensation, a source black of 0 first becomes the darkest gray these inks can print.
        """
        reach = self._reach(rules)
        if rules.black_point_compensation:
            xyz = compensated(xyz, black=_BLACK, to=reach.darkest)
        return self.exact_inks_for(mapped(xyz, gamut=reach.gamut, intent=rules.intent, source=reach.source), rules)

    def exact_inks_for(self, xyz: Floats, rules: ColourRules) -> Floats:
        """Ink amounts (..., k) for XYZ (..., 3): exact in gamut, else the nearest with the hue kept as well as possible."""
        return self._inverse.exact(xyz, rules)

    def settled(self, inks: Floats, nodes: Nodes, rules: ColourRules) -> Floats:
        """Ink amounts (r, g, b, k) of `nodes` made smooth, and the tolerance of least ink spent on them."""
        return self._inverse.settled(inks, nodes, rules)

    @cached_property
    def _inverse(self) -> Inverse:
        steps = 2 if self.forward.is_straight else _STEPS
        printable = Printable.of(self.xyz, inks=self.inks, n=self.yule_nielsen, steps=steps)
        return Inverse(printable, self.expense or Expense.even(len(self.inks)))

    def _reach(self, rules: ColourRules) -> "_Reach":
        key = rules.ink_limit, rules.black_point_compensation
        if key not in self._reaches:
            gamut = printable_boundary(self, limit=rules.ink_limit / 100)
            darkest = xyz_from_lch(np.array([gamut.darkest, 0.0, 0.0]))
            source = srgb_boundary(black=darkest if rules.black_point_compensation else _BLACK)
            self._reaches[key] = _Reach(darkest, gamut, source)
        return self._reaches[key]


@dataclass(frozen=True, eq=False)
class _Reach:
    """How far the print reaches within an ink limit. `darkest` (3,): its darkest gray. `source`: sRGB's gamut, compensated."""

    darkest: Floats
    gamut: GamutBoundary
    source: GamutBoundary
