"""Halftoned inks from their solids: Neugebauer's model with Yule and Nielsen's factor and a measured curve an ink and channel.

    V_j = Σ_s p_s(a_1j(c_1) … a_kj(c_k)) V_sj ,    V = R^(1/n)       (neugebauer.py)

A channel j is X, Y or Z, or a wavelength; R is relative to the film's white there. An ink's curve a_ij says which share of the
film it seems to cover in channel j when the printer is asked for the amount c_i. It is smoothed as far as its wedge scatters.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations
from typing import Final, Self

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.compiled import compiled
from filmhand.colour.fitted.kriging import Kriging
from filmhand.colour.neugebauer import demichel, to_mixing_space

Floats = NDArray[np.float64]

STEPS: Final = 65
"""Even steps of an ink's curve."""
_FEW: Final = 6
"""Steps of a wedge below which its scatter cannot be told from its shape."""
_BENT: Final = 0.7
_STEADY: Final = 1e-4
"""The reach and the noise that such a wedge is given: a gently bent curve with little scatter (our own, no source)."""
_DARKEST: Final = 1e-4
"""Least relative reflectance: its logarithm is taken."""
_TRUST: Final = 0.05
"""How well, in V, an overprint that was not printed is guessed from those that were (our own, no source)."""
_SCATTER: Final = 0.01
"""How well, in V, the model foretells a patch (our own, no source)."""


@dataclass(frozen=True, eq=False)
class Halftones:
    """`curves` (k, STEPS, q): covered share at even steps of the amount, 0 to 1, rising. `overprints` (2^k, q): reflectance,
    relative to film white, of solids over one another in `neugebauer.demichel`'s order. `n`: Yule and Nielsen's factor."""

    curves: Floats
    overprints: Floats
    n: float

    @classmethod
    def of(cls, amounts: Floats, reflectances: Floats, *, n: float) -> Self:
        """From patches (m, k), 0 to 1, and their reflectances (m, q) relative to film white; every full ink is among them."""
        seen = to_mixing_space(np.maximum(reflectances, _DARKEST), n)
        solids = _printed_overprints(amounts, seen)
        curves = np.stack([_curve(*_wedge(amounts, seen, ink), solids[1 << ink]) for ink in range(amounts.shape[1])])
        overprints = _with_the_rest(solids, amounts, seen, curves)
        return cls(curves, overprints**n, n)

    @classmethod
    def straight(cls, overprints: Floats, *, n: float) -> Self:
        """Of overprints (2^k, q) alone: each ink covers what it is asked to."""
        k, channels = len(overprints).bit_length() - 1, overprints.shape[1]
        return cls(np.broadcast_to(_EVEN[:, None], (k, STEPS, channels)).copy(), overprints, n)

    @property
    def is_straight(self) -> bool:
        """Whether each ink covers what it is asked to."""
        return bool((self.curves == _EVEN[:, None]).all())

    def __call__(self, amounts: Floats) -> Floats:
        """Reflectances (m, q), relative to film white, of amounts (m, k)."""
        amounts = np.ascontiguousarray(np.clip(amounts, 0, 1))
        return _printed(amounts, self.curves, np.ascontiguousarray(self._mixing.T), self.n)

    def tones(self, amounts: Floats) -> Floats:
        """Covered shares (m, k) of amounts (m, k), each ink judged by the channels in which it is strongest."""
        return np.stack([np.interp(amounts[:, i], _EVEN, curve) for i, curve in enumerate(self._tone_curves)], axis=1)

    @cached_property
    def _mixing(self) -> Floats:
        return to_mixing_space(self.overprints, self.n)

    @cached_property
    def _tone_curves(self) -> Floats:
        """(k, STEPS)."""
        strengths = np.stack([(1 - self._mixing[1 << ink]) ** 2 for ink in range(len(self.curves))])
        return np.asarray((self.curves * strengths[:, None]).sum(axis=2) / strengths.sum(axis=1)[:, None])


_EVEN: Final = np.linspace(0, 1, STEPS)


def _covered(curves: Floats, amounts: Floats) -> Floats:
    """Covered shares (m, k, q) of amounts (m, k)."""
    at = np.clip(amounts, 0, 1) * (STEPS - 1)
    below = np.minimum(at.astype(np.intp), STEPS - 2)
    part = (at - below)[..., None]
    inks = np.arange(len(curves))
    return np.asarray(curves[inks, below] * (1 - part) + curves[inks, below + 1] * part)


def _printed_overprints(amounts: Floats, seen: Floats) -> Floats:
    """V (2^k, q) of the overprints that are among the patches; the others are NaN."""
    k = amounts.shape[1]
    result = np.full((1 << k, seen.shape[1]), np.nan)
    solid = ((amounts == 0) | (amounts == 1)).all(axis=1)
    result[amounts[solid].astype(np.intp) @ (1 << np.arange(k))] = seen[solid]
    result[0] = 1
    return result


def _wedge(amounts: Floats, seen: Floats, ink: int) -> tuple[Floats, Floats]:
    """Amounts (s,) and V (s, q) of the patches of one ink alone, full ink left out, rising."""
    alone = (amounts[:, ink] > 0) & (amounts[:, ink] < 1) & (np.delete(amounts, ink, axis=1) == 0).all(axis=1)
    order = np.argsort(amounts[alone, ink])
    return amounts[alone, ink][order], seen[alone][order]


def _curve(steps: Floats, seen: Floats, solid: Floats) -> Floats:
    """Covered shares (STEPS, q) from a wedge: how far V is on its way from white to the solid."""
    if not len(steps):
        return np.repeat(_EVEN[:, None], len(solid), axis=1)
    depth = np.maximum(1 - solid, 1e-3)
    # off the straight line, in V, where the scatter of all channels is about alike
    ends = np.zeros((1, len(solid)))
    off = np.concatenate([ends, 1 - seen - steps[:, None] * depth, ends])
    at = np.concatenate([[0.0], steps, [1.0]])[:, None]
    scale = float(off.std()) or 1.0
    known = (_BENT, np.full(len(solid), _STEADY)) if len(steps) < _FEW else None
    bend = Kriging.through(at, off / scale, known=known)(_EVEN[:, None]) * scale
    bend -= (1 - _EVEN)[:, None] * bend[0] + _EVEN[:, None] * bend[-1]
    return np.maximum.accumulate(np.clip(_EVEN[:, None] + bend / depth, 0, 1), axis=0)


def _with_the_rest(solids: Floats, amounts: Floats, seen: Floats, curves: Floats) -> Floats:
    """V (2^k, q) of all overprints: those not printed as the halftones that hold some of them would have them."""
    missing = np.isnan(solids[:, 0])
    result = _guessed(solids)
    mixtures = (amounts > 0).sum(axis=1) > 1
    missing &= _held(amounts[mixtures])
    if not missing.any():
        return result
    covered = _covered(curves, amounts[mixtures])
    for channel in range(solids.shape[1]):
        shares = demichel(covered[..., channel])
        held = shares[:, missing] / _SCATTER
        rest = (seen[mixtures, channel] - shares @ result[:, channel]) / _SCATTER
        normal = held.T @ held + np.eye(int(missing.sum())) / _TRUST**2
        result[missing, channel] += np.linalg.solve(normal, held.T @ rest)
    return np.clip(result, _DARKEST, 1)


def _held(amounts: Floats) -> NDArray[np.bool_]:
    """Which overprints (2^k,) patches (m, k) hold some of: those whose inks they all have."""
    patches = np.unique((amounts > 0) @ (1 << np.arange(amounts.shape[1])))
    return np.asarray([bool((patches & overprint == overprint).any()) for overprint in range(1 << amounts.shape[1])], np.bool_)


def _guessed(solids: Floats) -> Floats:
    """Overprints not printed: densities add up as those of the parts do, and no overprint is lighter than a part of it."""
    density = -np.log(solids)
    count = len(solids).bit_length() - 1
    for overprint in sorted(range(len(solids)), key=int.bit_count):
        if np.isnan(density[overprint, 0]):
            inks = [ink for ink in range(count) if overprint >> ink & 1]
            darkest_part = np.max([density[overprint ^ 1 << ink] for ink in inks], axis=0)
            density[overprint] = np.maximum(_together(density, inks), darkest_part)
    return np.exp(-density)


def _together(density: Floats, inks: Sequence[int]) -> Floats:
    """The density (q,) of inks over one another were there no effect but those of all smaller overprints of them."""
    total = np.zeros(density.shape[1])
    for size in range(1, len(inks)):
        sign = 1 if (len(inks) - size) % 2 else -1
        for part in combinations(inks, size):
            total += sign * density[sum(1 << ink for ink in part)]
    return total


@compiled
def _printed(amounts: Floats, curves: Floats, mixing: Floats, n: float) -> Floats:
    """Reflectances (m, q) of amounts (m, k), 0 to 1; `mixing` (q, 2^k): V of the overprints. Absent inks cost nothing."""
    k, channels = amounts.shape[1], len(mixing)
    result = np.empty((len(amounts), channels))
    overprints, shares = np.empty(1 << k, np.int64), np.empty(1 << k)
    for i in range(len(amounts)):
        used = 1
        overprints[0] = 0
        for ink in range(k):
            if amounts[i, ink] > 0:
                for s in range(used):
                    overprints[used + s] = overprints[s] | 1 << ink
                used *= 2
        for channel in range(channels):
            shares[0] = 1.0
            filled = 1
            for ink in range(k):
                if amounts[i, ink] > 0:
                    at = amounts[i, ink] * (STEPS - 1)
                    below = min(int(at), STEPS - 2)
                    low = curves[ink, below, channel]
                    covered = low + (at - below) * (curves[ink, below + 1, channel] - low)
                    for s in range(filled):
                        shares[filled + s] = shares[s] * covered
                        shares[s] *= 1 - covered
                    filled *= 2
            light = 0.0
            for s in range(used):
                light += shares[s] * mixing[channel, overprints[s]]
            result[i, channel] = max(light, 0.0) ** n
    return result
