"""An ink model of a printer that has drifted since its chart: the charted model, seen through a curve an ink."""

import hashlib
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.inverse.settle import Nodes
from filmhand.colour.model import InkModel
from filmhand.colour.neugebauer import to_mixing_space
from filmhand.colour.opacity import Opacity
from filmhand.colour.transfer import Curves, UnusableCurvesError, from_bytes
from filmhand.rules import ColourRules

Floats = NDArray[np.float64]

_BACK: Final = 0.05
"""How far below full ink the slope is taken by which an ink goes on beyond it."""


@dataclass(frozen=True, eq=False)
class Drifted:
    """An `InkModel` whose amounts are those to send today, so that the print again looks as charted.

    The curves know nothing of the ink limit; where what they send passes it, all inks are cut alike. Where a full ink has become
    weaker than the colour needs, full ink is sent, and the colour is not reached: `drift` says by how much.
    """

    model: InkModel
    curves: Curves

    @property
    def inks(self) -> tuple[str, ...]:
        """As the charted model's."""
        return self.model.inks

    @property
    def yule_nielsen(self) -> float:
        """As the charted model's."""
        return self.model.yule_nielsen

    @property
    def is_nominal(self) -> bool:
        """As the charted model's."""
        return self.model.is_nominal

    @property
    def film_white(self) -> Floats:
        """As the charted model's."""
        return self.model.film_white

    @property
    def opacity(self) -> Opacity:
        """As the charted model's."""
        return self.model.opacity

    @cached_property
    def digest(self) -> str:
        """SHA-256 of the charted model's digest and the curves."""
        return self._with_curves(self.model.digest)

    @cached_property
    def colours_digest(self) -> str:
        """SHA-256 of what decides the charted model's colours, and the curves."""
        return self._with_curves(self.model.colours_digest)

    def _with_curves(self, digest: str) -> str:
        return hashlib.sha256(f"drifted {digest} {self.curves.model_dump_json(include={'inks'})}".encode()).hexdigest()

    def xyz(self, inks: Floats) -> Floats:
        """XYZ (..., 3), D50, relative to film white, of amounts (..., k) sent today."""
        return beyond_full(self.model, self.curves.acts_as(inks, inks=self.inks))

    def inks_for(self, xyz: Floats, rules: ColourRules) -> Floats:
        """Amounts (..., k) to send today for colours (..., 3), as the charted model has them."""
        return self._sent(self.model.inks_for(xyz, rules), rules)

    def exact_inks_for(self, xyz: Floats, rules: ColourRules) -> Floats:
        """The same, of the charted model's exact inks."""
        return self._sent(self.model.exact_inks_for(xyz, rules), rules)

    def settled(self, inks: Floats, nodes: Nodes, rules: ColourRules) -> Floats:
        """Amounts to send today (r, g, b, k) over a grid, settled by the charted model as what they act as."""
        acting = np.minimum(self.curves.acts_as(inks, inks=self.inks), 1)
        return self._sent(self.model.settled(acting, nodes, rules), rules)

    def _sent(self, inks: Floats, rules: ColourRules) -> Floats:
        """Charted amounts (..., k) as amounts sent, within the ink limit."""
        sent = self.curves.sent_for(inks, inks=self.inks)
        most = np.maximum(inks.sum(axis=-1, keepdims=True), rules.ink_limit / 100)
        total = sent.sum(axis=-1, keepdims=True)
        return np.asarray(sent * np.minimum(1, most / np.maximum(total, most)))


def drifted(model: InkModel, curves_file: bytes) -> Drifted:
    """The charted model seen through the curves in a file. UnusableCurvesError where it is damaged, or of another ink model."""
    curves = from_bytes(curves_file)
    if curves.model != model.colours_digest or not curves.inks.keys() <= set(model.inks):
        raise UnusableCurvesError("the curves were made for another ink model")
    return Drifted(model, curves)


def beyond_full(model: InkModel, inks: Floats) -> Floats:
    """XYZ (..., 3) of amounts (..., k) that may lie above 1, where an ink goes on as just below, in the mixing space."""
    within = np.clip(inks, 0, 1)
    above = inks - within
    if not above.any():
        return model.xyz(within)
    n = model.yule_nielsen
    full = to_mixing_space(model.xyz(within), n)
    mixed = full.copy()
    for column in np.flatnonzero(above.reshape(-1, above.shape[-1]).any(axis=0)):
        less = within.copy()
        less[..., column] = within[..., column] - _BACK * (above[..., column] > 0)
        slope = (full - to_mixing_space(model.xyz(less), n)) / _BACK
        mixed += above[..., column, None] * slope
    return np.asarray(np.maximum(mixed, 0) ** n)
