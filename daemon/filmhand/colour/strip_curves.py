"""The curves of inks that have moved, from a control strip then and now.

For each patch of a single ink that amount is sought at which the charted model shows today's colour. Where one has moved past
noise, the ink gets a curve through them; then all curves together are settled by least squares over the whole strip, so that near
grays and overprints have their say too (Gauss and Newton; as by tints alone a stronger ink would be cut too much in mixtures).
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.cielab import lab_from_xyz
from filmhand.colour.drifted import Drifted, beyond_full
from filmhand.colour.model import InkModel
from filmhand.colour.strip_pairs import Pairs
from filmhand.colour.transfer import MOST, Curves, InkCurve

Floats = NDArray[np.float64]

MOST_INK: Final = 2.6
"""Ink of all patches that count, together: shops' limits lie below (200 to 260 %: common practice, no source)."""
_MISSING: Final = 0.6
"""Full ink that acts as less wants a cleaned head, not a curve: common practice, no source."""
_TONE_SEEN: Final = 0.01
_GRADES: Final = np.linspace(0, MOST, 1501)
_STEPS: Final = 151
_SIDE: Final = 0.02
_RISE: Final = 1e-4
_ROUNDS: Final = 4
_NUDGE: Final = 1e-4


@dataclass(frozen=True, eq=False)
class StripFit:
    """Amounts (m,) that patches of single inks act as, NaN elsewhere; whether their tone has moved (m,); the curves."""

    acts_as: Floats
    has_moved: NDArray[np.bool_]
    curves: Curves


def strip_fit(strip: Pairs, model: InkModel) -> StripFit:
    """Judge every ink's tones, and curves over `model` for those that have moved.

    An ink gets none whose full patch was not read, or whose full ink is that weak that it is missing rather than drifting.
    """
    acts_as = np.full(len(strip.amounts), np.nan)
    has_moved = np.zeros(len(strip.amounts), bool)
    first = {}
    offset = strip.then - lab_from_xyz(model.xyz(strip.amounts))
    for column, ink in enumerate(model.inks):
        alone = np.flatnonzero((strip.amounts > 0).sum(axis=1) * (strip.amounts[:, column] > 0) == 1)
        charted = _ramp(model, column)
        for row in alone:
            acts_as[row] = _GRADES[np.square(charted + offset[row] - strip.now[row]).sum(axis=1).argmin()]
        sent = strip.amounts[alone, column]
        shift = np.abs(acts_as[alone] - sent)
        has_moved[alone] = (shift > strip.tone_limit * strip.deviation[alone] / _steepness(charted, sent)) & (shift > _TONE_SEEN)
        order = np.argsort(sent)
        if has_moved[alone].any() and sent.max() == 1 and acts_as[alone][order[-1]] > _MISSING:
            first[ink] = _curve([0.0, *sent[order]], [0.0, *acts_as[alone][order]])
    return StripFit(acts_as, has_moved, _settled(Curves(model=model.colours_digest, inks=first), strip, model))


def _ramp(model: InkModel, column: int) -> Floats:
    """CIELAB (_GRADES, 3) of one ink; asked of the model at fewer steps, between which it is as good as straight."""
    steps = np.zeros((_STEPS, len(model.inks)))
    steps[:, column] = np.linspace(0, MOST, _STEPS)
    lab = lab_from_xyz(beyond_full(model, steps))
    return np.stack([np.interp(_GRADES, steps[:, column], axis) for axis in lab.T], axis=-1)


def _steepness(charted: Floats, sent: Floats) -> Floats:
    """How fast an ink's colour changes: CIELAB units for the whole of it, at amounts (m,); `charted` is its ramp over _GRADES."""
    low, high = (np.searchsorted(_GRADES, np.clip(sent + side, 0, 1) - _RISE) for side in (-_SIDE, _SIDE))
    return np.asarray(np.linalg.norm(charted[high] - charted[low], axis=1) / (_GRADES[high] - _GRADES[low]))


def _settled(curves: Curves, strip: Pairs, model: InkModel) -> Curves:
    """The same curves with their knots moved so that the whole strip is explained best."""
    knots = [(ink, place) for ink, curve in curves.inks.items() for place in range(1, len(curve.sent))]
    if not knots:
        return curves
    used = strip.amounts.sum(axis=1) <= MOST_INK
    amounts = strip.amounts[used]
    wanted = strip.now[used] - strip.then[used] + lab_from_xyz(model.xyz(amounts))
    heights = np.array([curves.inks[ink].acts_as[place] for ink, place in knots])
    for _ in range(_ROUNDS):
        found = _seen(_moved(curves, heights), amounts, model)
        slopes = [
            (_seen(_moved(curves, heights + step), amounts, model) - found) / _NUDGE for step in _NUDGE * np.eye(len(knots))
        ]
        heights += np.linalg.lstsq(np.stack([slope.ravel() for slope in slopes], axis=1), (wanted - found).ravel(), rcond=None)[0]
    return _moved(curves, heights)


def _seen(curves: Curves, amounts: Floats, model: InkModel) -> Floats:
    return lab_from_xyz(Drifted(model, curves).xyz(amounts))


def _moved(curves: Curves, heights: Floats) -> Curves:
    """Curves whose knots, the first apart, have these heights, ink by ink."""
    left = heights.tolist()
    inks = {}
    for ink, curve in curves.inks.items():
        count = len(curve.sent) - 1
        inks[ink] = _curve(list(curve.sent), [0.0, *left[:count]])
        left = left[count:]
    return Curves(model=curves.model, inks=inks)


def _curve(sent: list[float], acts_as: list[float]) -> InkCurve:
    """The curve through these knots; where noise has turned a tone it is put a little above the one before."""
    rise = _RISE * np.arange(len(sent))
    rising = np.maximum.accumulate(np.minimum(acts_as, MOST - rise[-1]) - rise) + rise
    return InkCurve(sent=tuple(float(x) for x in sent), acts_as=tuple(rising.tolist()))
