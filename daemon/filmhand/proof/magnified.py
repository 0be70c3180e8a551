"""Dots under a magnifier: each drawn round, as large as its ink spreads."""

from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.dot_spread import drawn, reach, spread_radius
from filmhand.colour.model import InkModel
from filmhand.gang.composed import CONTINUOUS
from filmhand.proof.dots import Dots, Reals
from filmhand.proof.means import Means
from filmhand.rules import is_white

Values = TypeVar("Values", Reals, NDArray[np.uint8])


def magnified(dots: Dots, times: int, *, model: InkModel) -> Means:
    """What a window holds, drawn with so many pixels a dot each way.

    At 8 bits the print controller makes the dots; then each tone is a square.
    """
    if dots.bits == CONTINUOUS:
        inks = {ink: _larger(dots.shares[ink][plane], times) for ink, plane in dots.planes.items()}
    else:
        radius = spread_radius(model)
        inks = {
            ink: drawn(np.rint(255 * dots.shares[ink]).astype(np.uint8)[plane], radius[ink], zoom=times)
            for ink, plane in dots.planes.items()
        }
    nothing = np.zeros_like(next(iter(inks.values())))
    film, white = nothing.copy(), nothing
    for ink, share in inks.items():
        np.maximum(film, share, out=film)
        white = np.maximum(white, share) if is_white(ink) else white
    if dots.bits == CONTINUOUS:
        white = np.where(white > 0, film, nothing)
    return Means(film, white, inks, dots.garments, _larger(dots.lies_on, times))


def dots_beyond(model: InkModel) -> int:
    """How many dots beyond a window, on each side, may reach into it: it is drawn with those, and cropped."""
    return reach(max(spread_radius(model).values()))


def _larger(one: Values, times: int) -> Values:
    return one.repeat(times, axis=0).repeat(times, axis=1)
