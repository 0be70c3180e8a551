"""A nominal ink model: colours invented for inks nobody measured, so that a shop without a profile can print at all.

Nothing here was measured on any machine, ink or film, and no table of any maker or standard was followed. A profile or a
measured chart replaces it; until then previews and tickets call the colour nominal.
"""

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.charted import ChartedModel
from filmhand.colour.cielab import D50_WHITE, xyz_from_lab
from filmhand.colour.expense import Expense
from filmhand.colour.fitted.model import FittedInks
from filmhand.rules import Ink

Floats = NDArray[np.float64]

YULE_NIELSEN: Final = 1.7
"""Invented like the rest; factors near it are common for fine halftones (common practice, no source)."""

# CIELAB over film white; every value invented.
_SOLIDS: Final[dict[str, tuple[float, float, float]]] = {
    Ink.CYAN: (57, -37, -47),
    Ink.MAGENTA: (51, 74, -7),
    Ink.YELLOW: (91, -7, 92),
    Ink.BLACK: (14, 0, 0),
    Ink.RED: (53, 72, 55),
    Ink.GREEN: (57, -70, 34),
    Ink.BLUE: (29, 30, -62),
    Ink.ORANGE: (67, 50, 76),
}
_OVERPRINTS: Final[dict[frozenset[str], tuple[float, float, float]]] = {
    frozenset({Ink.CYAN, Ink.MAGENTA}): (28, 22, -50),
    frozenset({Ink.CYAN, Ink.YELLOW}): (53, -64, 29),
    frozenset({Ink.MAGENTA, Ink.YELLOW}): (50, 69, 49),
    frozenset({Ink.CYAN, Ink.MAGENTA, Ink.YELLOW}): (22, 0, 0),
}
_TRAPPING: Final = 0.5
"""How much of what lies under a further ink still counts: less than 1, as pigments hide one another."""


def nominal_model(colours: Sequence[str], *, expense: Expense | None = None) -> ChartedModel:
    """The model for a printer's colour inks (letters, in print order, without white)."""
    primaries = np.empty((1 << len(colours), 3))
    for overprint in range(len(primaries)):
        primaries[overprint] = _overprint([ink for i, ink in enumerate(colours) if overprint >> i & 1])
    inks = tuple(str(ink) for ink in colours)
    return ChartedModel(FittedInks.of_overprints(inks, primaries, n=YULE_NIELSEN), expense, is_nominal=True)


def _overprint(inks: Sequence[str]) -> Floats:
    """XYZ (3,) of solid inks over one another: C, M and Y from the table, then each other ink over them, K last."""
    base = frozenset(inks) & {Ink.CYAN, Ink.MAGENTA, Ink.YELLOW}
    share = np.ones(3) if not base else _share(_OVERPRINTS[base] if len(base) > 1 else _SOLIDS[next(iter(base))])
    for ink in sorted(set(inks) - base, key=lambda ink: (ink == Ink.BLACK, ink)):
        share = _over(share, _share(_SOLIDS[ink]))
    return np.asarray(share * D50_WHITE)


def _share(lab: tuple[float, float, float]) -> Floats:
    return np.asarray(xyz_from_lab(np.array(lab, dtype=np.float64)) / D50_WHITE)


def _over(below: Floats, above: Floats) -> Floats:
    """Shares of white's X, Y, Z: the darker of the two in each, darkened further by the lighter, the less by `_TRAPPING`."""
    return np.asarray(np.minimum(below, above) * (1 - _TRAPPING + _TRAPPING * np.maximum(below, above)))
