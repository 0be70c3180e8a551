"""Curves of a profile's tables: how colour counts ink, and how ink counts colour, so that evenly spaced nodes serve well."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.cielab import lab_from_xyz
from filmhand.colour.icc.lut import TOP, Words, words
from filmhand.colour.model import InkModel

Floats = NDArray[np.float64]

CHROMA_ENDS: Final = 128.0
_STEPS: Final = 1021
"""Of a curve. 1020 is four times 255: so a* = b* = 0, encoded as 128/255, is on a step."""
_STRAIGHT: Final = 0.25
"""Part of an ink's curve that is its plain amount: no curve gets so flat that its inverse jumps."""
_DENSER: Final = 1.5
"""How much denser nodes lie near gray: of 33, they are 5.6 apart at gray and 13 at the ends."""


def ink_curves(model: InkModel) -> Words:
    """A curve (k, any) uint16 an ink: how far its amounts have changed the colour, 65535 = as far as full ink does.

    Counted along CIELAB, on average over bare film and each of the other inks in full: between nodes, colour then runs nearly
    straight. On models with tone gain the misses of a table of eight inks are less than half of those without (measured).
    """
    count, amounts = len(model.inks), np.linspace(0, 1, _STEPS)
    grounds = np.concatenate([np.zeros((1, count)), np.eye(count)])
    curves = []
    for ink in range(count):
        inks = np.repeat(grounds[np.arange(count + 1) != ink + 1, None, :], _STEPS, axis=1)
        inks[..., ink] = amounts
        steps = np.linalg.norm(np.diff(lab_from_xyz(model.xyz(inks)), axis=1), axis=-1).sum(axis=0)
        way = np.append(0, np.cumsum(steps))
        curves.append((1 - _STRAIGHT) * way / way[-1] + _STRAIGHT * amounts)
    return words(np.array(curves))


def never_more(curves: Words) -> Words:
    """The lowest concave curves (k, any) over those given: between nodes never lies more ink than the mean of theirs.

    So a table whose nodes keep an ink limit keeps it everywhere.
    """
    return np.stack([_concave(curve) for curve in curves])


def plain_curves(count: int) -> Words:
    """Curves (count, 2) that change nothing."""
    return np.tile(words(np.array([0.0, 1.0])), (count, 1))


def inverse_curves(curves: Words) -> Words:
    """The curves (k, any) that lead back."""
    return words(backwards(np.repeat(_even(curves)[:, None], len(curves), axis=1), curves).T)


def forwards(values: Floats, curves: Words) -> Floats:
    """Values (m, k), 0 to 1, each column by its curve."""
    return np.stack([np.interp(values[:, i], _even(curves), curves[i] / TOP) for i in range(len(curves))], axis=1)


def backwards(values: Floats, curves: Words) -> Floats:
    """What curves, all of them rising, make values (m, k) of."""
    return np.stack([np.interp(values[:, i], curves[i] / TOP, _even(curves)) for i in range(len(curves))], axis=1)


def lab_axes(count: int) -> tuple[Floats, Floats, Floats]:
    """Values (count,) of L*, a* and b* at a table's nodes: even in L*, denser near gray in a* and b*; an odd number has gray."""
    chroma = CHROMA_ENDS * np.sinh(_DENSER * np.linspace(-1, 1, count)) / np.sinh(_DENSER)
    return np.linspace(0, 100, count), chroma, chroma


def lab_curves() -> Words:
    """Curves (3, any) from encoded CIELAB (ICC.1:2010 section 6.3.4.2) to places on `lab_axes`."""
    encoded = np.linspace(0, 1, _STEPS)
    chroma = (255 * encoded - 128) / CHROMA_ENDS
    place = (np.arcsinh(chroma * np.sinh(_DENSER)) / _DENSER + 1) / 2
    return words(np.stack([encoded, place, place]))


def _concave(curve: Words) -> Words:
    """The curve's upper hull (Andrew 1979, "Another efficient algorithm for convex hulls in two dimensions")."""
    hull: list[int] = []
    for step, height in enumerate(curve.tolist()):
        while len(hull) > 1:
            before, last = hull[-2], hull[-1]
            if (int(curve[last]) - int(curve[before])) * (step - before) > (height - int(curve[before])) * (last - before):
                break
            hull.pop()
        hull.append(step)
    return np.ceil(np.interp(np.arange(len(curve)), hull, curve[hull])).astype(np.uint16)


def _even(curves: Words) -> Floats:
    return np.linspace(0, 1, curves.shape[1])
