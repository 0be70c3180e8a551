"""What separation needs to know of a printer's colour: inks to colour and back."""

from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.black_point import neutral
from filmhand.colour.inverse.settle import Nodes
from filmhand.colour.opacity import Opacity
from filmhand.rules import ColourRules

Floats = NDArray[np.float64]


class InkModel(Protocol):
    """The printer's colour over its own white. Colours are XYZ (D50, ICC.1 PCS white), relative to that white: Y 1 = film white.

    Ink amounts are nominal fractions of full ink, 0 to 1, in the order of `inks`; white is not among them.
    """

    @property
    def inks(self) -> tuple[str, ...]:
        """Letters of the colour inks, in print order."""

    @property
    def yule_nielsen(self) -> float:
        """The factor n in whose space (R^(1/n)) areas mix."""

    @property
    def is_nominal(self) -> bool:
        """True for invented primaries: to be replaced by a measured chart."""

    @property
    def film_white(self) -> Floats:
        """XYZ (3,), D50, of bare white on film as an instrument measures it: Y 1 = perfect diffuser. D50 white where unknown."""

    @property
    def opacity(self) -> Opacity:
        """How the white hides a garment."""

    @property
    def digest(self) -> str:
        """SHA-256 of all that decides the numbers: the key of cached tables."""

    @property
    def colours_digest(self) -> str:
        """SHA-256 of what decides the colours alone: prices and drop volumes are not in it."""

    def xyz(self, inks: Floats) -> Floats:
        """Colour of ink amounts (..., k) over full white: (..., 3)."""

    def inks_for(self, xyz: Floats, rules: ColourRules) -> Floats:
        """Ink amounts (..., k) that come nearest to colours (..., 3) within the rule's ink limit and black generation.

        No tolerance is spent on least ink here, nor in `exact_inks_for`: it is spent once, by `settled`.
        Where the rule wants black point compensation, a black of 0 becomes the printer's darkest; the intent is the rule's too.
        """

    def exact_inks_for(self, xyz: Floats, rules: ColourRules) -> Floats:
        """Ink amounts (..., k) whose `xyz` is the colour (..., 3) itself where these inks can print it, else comes nearest.

        For asking whether film can show a colour: no intent, no black point compensation; ink limit and black as `inks_for`.
        """

    def settled(self, inks: Floats, nodes: Nodes, rules: ColourRules) -> Floats:
        """Ink amounts (r, g, b, k) over a grid of `nodes`, as `exact_inks_for` gives them, made ready for interpolation.

        The tolerance of least ink is spent on them, and inks that bend from node to node are drawn into line, within the colour's
        tolerance (ΔE00 0.1 without one) and the ink limit.
        """


def darkest_gray(model: InkModel, rules: ColourRules) -> Floats:
    """XYZ (3,) of the gray that a black of 0 becomes by black point compensation."""
    compensating = rules.model_copy(update={"black_point_compensation": True})
    return neutral(model.xyz(model.inks_for(np.zeros((1, 3)), compensating))[0])
