"""By how much a picture was enlarged by repeating pixels (nearest neighbour): where its columns and rows do not change."""

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

Profile = NDArray[np.float32]
"""How much a square changes from each column, or row, to the next: n - 1 float32, 0 = not at all, 1 = everywhere."""

_MOST_STEP: Final = 12.0
"""Levels: a larger step counts no more, so that one hard edge does not outweigh all texture."""

_LEAST_FACTOR, MOST_FACTOR = 1.25, 12.0

_CLEAR_IDLE: Final = 0.02
"""Where JPEG's blocks may be meant, nearly nothing may change: strong compression, too, leaves little within them."""

_BLOCK: Final = 8
"""JPEG's blocks are 8 pixels wide (ITU-T T.81)."""

_IN_STEP: Final = 0.01
"""Factors so near to each other cannot be told apart."""

_FINENESS: Final = 16_384
"""Frequencies looked at in a cycle a pixel: fine enough to keep in step over a part."""

_LEAST_PERIODIC: Final = 0.15
"""Share of all change that goes by the period; a step at whole pixels, of a period that is not, leaves sinc(1/f), 0.4 at 1.5."""

_OF_STRONGEST: Final = 0.3
"""Weaker peaks are side lobes of the strongest."""

_MOST_IDLE: Final = 0.4
"""Change where pixels repeat, to change where they do not: 0 but for a JPEG's noise; untouched photographs have nearly 1."""

_AS_IDLE: Final = 0.03
"""A larger factor that is as idle but for so much is the one: what repeats three times also repeats one and a half times."""

_LEAST_CHANGING: Final = 1 / 50
"""Share of columns and rows that must change, on average; few edges fall on a period by chance."""

_LEAST_ACTIVE: Final = 0.5
"""Share of the steps of the period at which something changes; a coarse pattern, like a chequered flag's, has fewer."""

_PHASES: Final = 32

_WHOLE: Final = 0.7
"""Of the columns that repeat, so many are clear of a step in a phase that counts."""

_DRIFT: Final = 0.02
"""Pixels by which the steps of a factor as coarse as frequencies are come off true over a part."""


def repeated_factor(squares: Sequence[NDArray[np.float32]]) -> float:
    """The factor by which pixels of the picture that these squares (n×n float32, levels) come from were repeated, else 1."""
    profiles = _profiles(squares)
    if changing(squares) < _LEAST_CHANGING:
        return 1.0
    spectra = [np.abs(np.fft.rfft(profile, _FINENESS)) for profile in profiles]
    periodic = np.sum(spectra, axis=0) / sum(float(profile.sum()) for profile in profiles)
    factors = {factor for frequency in _peaks(periodic) for factor in (1 / frequency, 1 / (1 - frequency))}
    idle = {factor: _idle(profiles, factor) for factor in factors if _LEAST_FACTOR <= factor <= MOST_FACTOR}
    idle = {factor: value for factor, value in idle.items() if value <= _CLEAR_IDLE or not _is_of_blocks(factor, periodic)}
    least = min(idle.values(), default=1.0)
    return max(factor for factor in idle if idle[factor] <= least + _AS_IDLE) if least <= _MOST_IDLE else 1.0


def changing(squares: Sequence[NDArray[np.float32]]) -> float:
    """The share of columns and rows of squares (n×n float32, levels) that differ from the next, slight differences less."""
    return float(np.mean([profile.sum() ** 2 / np.square(profile).sum() / len(profile) for profile in _profiles(squares)] or 0))


def _profiles(squares: Sequence[NDArray[np.float32]]) -> list[Profile]:
    """How squares (n×n float32, levels) change from column to column and from row to row, where they do."""
    steps = [np.abs(np.diff(way, axis=1)) for square in squares for way in (square, square.T)]
    profiles = [np.minimum(step, _MOST_STEP).mean(axis=0) / _MOST_STEP for step in steps]
    return [np.asarray(profile, np.float32) for profile in profiles if profile.max() > 0]


def _peaks(periodic: NDArray[np.float64]) -> list[float]:
    """Frequencies (cycles a pixel) that much of the change goes by."""
    inner = periodic[1:-1]
    least = max(_LEAST_PERIODIC, _OF_STRONGEST * float(periodic[_FINENESS // round(MOST_FACTOR) :].max()))
    is_peak = (inner >= least) & (inner >= periodic[:-2]) & (inner >= periodic[2:])
    places = [int(place) + 1 for place in np.flatnonzero(is_peak)]
    if periodic[-1] >= least:
        places.append(len(periodic) - 1)  # every second pixel
    return [place / _FINENESS for place in places if place * MOST_FACTOR >= _FINENESS]


def _is_of_blocks(factor: float, periodic: NDArray[np.float64]) -> bool:
    """Whether the period is that of JPEG's blocks, or a part of it."""
    part = round(_BLOCK / factor)
    is_part = part > 0 and abs(_BLOCK / factor / part - 1) <= _IN_STEP
    return is_part and bool(periodic[_FINENESS // _BLOCK] >= periodic[_FINENESS * min(part, _BLOCK - part) // _BLOCK] / 2)


def _idle(profiles: Sequence[Profile], factor: float) -> float:
    """How much the profiles change elsewhere than at steps a factor apart, to the nearest pixel; 1 if few of those are steps."""
    idle, steps = [], []
    for profile in profiles:
        columns = np.arange(len(profile))
        within = (columns[None, :] - factor * np.arange(_PHASES)[:, None] / _PHASES) % factor
        # A step lies between the two pixels that it is nearest to, give or take the coarseness of phases and frequencies.
        is_step = np.minimum(within, factor - within) <= 0.5 + factor / _PHASES / 2 + _DRIFT
        between = np.count_nonzero(~is_step, axis=1)
        is_whole = between >= _WHOLE * (1 - 1 / factor) * len(profile)  # Else the phase lies so that no pixel is clear of a step.
        phase = int(np.argmin(np.where(is_whole, np.where(is_step, 0, profile).sum(axis=1) / np.maximum(between, 1), np.inf)))
        idle.append(profile[~is_step[phase]])
        steps.append(profile[is_step[phase]])
    at_steps, elsewhere = np.concatenate(steps), np.concatenate(idle)
    if not len(elsewhere) or np.mean(at_steps > at_steps.max() / 1000) < _LEAST_ACTIVE:
        return 1.0
    return float(elsewhere.mean() / at_steps.mean())
