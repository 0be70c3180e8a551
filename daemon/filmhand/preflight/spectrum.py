"""By how much a picture was enlarged with a smooth filter, from the spectrum of its tones.

Enlarging f times repeats the original's spectrum every 1/f cycles a pixel, and the filter (bilinear, bicubic, Lanczos) leaves
something of the repeats on both sides of 1/(2f). So there, and only in an enlarged picture, each frequency is like the one
1/f further down, with a phase that is the same for all. This is the periodic variance of interpolated signals (Gallagher,
"Detection of linear and cubic interpolation in JPEG compressed images", CRV 2005; Mahdian, Saic, "Blind authentication using
periodic properties of interpolation", IEEE TIFS 3, 2008), looked for in the spectrum, where it can be told by its place.
"""

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

SIDE: Final = 240
"""Side of a part looked at, in pixels: common factors divide it. Pictures too small for it are looked at in parts of half."""

LEAST_FACTOR, MOST_FACTOR = 1.4, 6.5
"""What can be told: less of an enlargement lets too little of the repeats through, more of it leaves too few frequencies."""

_BAND: Final = 0.3
"""How far around 1/(2f) frequencies are compared, in units of 1/f."""

_CORNER: Final = 0.4
"""Cycles a pixel, both ways: finer than this an enlarged picture holds noise only (rounding, JPEG)."""

_ABOVE_NOISE: Final = 4.0
"""Power below so many times the noise counts for little."""

_ROUNDING: Final = 1 / 12
"""Variance of rounding to whole levels."""

_LEAST_LIKENESS: Final = 0.025
"""Mean squared coherence of a true repeat; untouched photographs that pass what follows have at most 0.018 (measured)."""

_ABOVE_NEIGHBOURS: Final = 5.0
"""How far it stands above the shifts beside it: hard edges make all shifts alike."""

_ABOVE_GRID: Final = 1.4
"""How far it stands above what the grid of JPEG's blocks explains."""

_OF_MULTIPLE: Final = 0.4
"""Likeness at 1/f is at least so much of that at a multiple of it, where there is any."""

_OF_GRID: Final = 0.2
"""The same of its likeness at an eighth less of 1/f, which the blocks of an enlarged JPEG give."""

_SLOPE: Final = 3
"""Shifts so near to another belong to its peak: the window widens it."""

_GRID: Final = 8
"""JPEG's blocks are 8 pixels wide (ITU-T T.81), which repeats the spectrum every eighth of a cycle a pixel."""


def smooth_factor(squares: Sequence[NDArray[np.float32]]) -> float:
    """The factor by which the picture that these squares (n×n float32, levels) come from was enlarged; 1 if it was not."""
    if not squares:
        return 1.0
    side = squares[0].shape[0]
    shifts = np.arange(side // 10, side * 9 // 10)
    likeness = np.mean([_likeness(square, shifts) for square in squares], axis=0)
    is_told = (shifts * LEAST_FACTOR <= side) & (shifts * MOST_FACTOR >= side) & (likeness >= _LEAST_LIKENESS)
    is_told &= likeness >= _ABOVE_NEIGHBOURS * _beside(likeness, shifts, side)
    is_told &= likeness >= _ABOVE_GRID * _of_grid(likeness, shifts, side)
    if not is_told.any():
        return 1.0
    best = int(np.argmax(np.where(is_told, likeness, 0)))
    return float(side / _fundamental(best, np.where(is_told, likeness, 0), shifts))


def _likeness(square: NDArray[np.float32], shifts: NDArray[np.int64]) -> NDArray[np.float64]:
    """Squared coherence (0 to 1) of the spectrum (of n×n float32) with itself, shifted by so many n-ths of a cycle a pixel.

    The mean of both directions. Only magnitudes clear of the noise count, and all of those alike.
    """
    side = square.shape[0]
    window = np.hanning(side + 1)[:side].astype(np.float32)
    spectrum = np.fft.fftshift(np.fft.fft2((square - square.mean()) * np.outer(window, window))).astype(np.complex64)
    power = spectrum.real**2 + spectrum.imag**2
    is_fine = np.abs(np.fft.fftshift(np.fft.fftfreq(side))) > _CORNER
    noise = max(float(np.median(power[np.ix_(is_fine, is_fine)])), _ROUNDING * float((window**2).sum()) ** 2)
    spectrum /= np.sqrt(power + _ABOVE_NOISE * noise)
    return (_coherence(spectrum, shifts) + _coherence(np.ascontiguousarray(spectrum.T), shifts)) / 2


def _coherence(spectrum: NDArray[np.complex64], shifts: NDArray[np.int64]) -> NDArray[np.float64]:
    """The same along the first axis of a whitened spectrum (n×n complex64, frequency 0 in the middle)."""
    middle = spectrum.shape[0] // 2
    power = spectrum.real**2 + spectrum.imag**2
    found = np.empty(len(shifts))
    for place, shift in enumerate(shifts):
        # Pairs below the middle of the band are these once more, turned about: the picture is real.
        first, last = middle + (shift + 1) // 2, min(2 * middle, middle + int(shift * (0.5 + _BAND)) + 1)
        upper, lower = slice(first, last), slice(first - shift, last - shift)
        product = abs(np.vdot(spectrum[lower], spectrum[upper])) ** 2
        # Divided by what chance makes of it, and by the number of pairs.
        chance = float(np.vdot(power[lower], power[upper]))
        found[place] = product / max(chance, 1e-9) / ((last - first) * spectrum.shape[1])
    return found


def _beside(likeness: NDArray[np.float64], shifts: NDArray[np.int64], side: int) -> NDArray[np.float64]:
    """The median of the shifts beside each, itself, its slopes and the grid of JPEG left out."""
    is_grid = _grid_distance(shifts, side) <= _SLOPE
    near = np.abs(shifts[:, None] - shifts[None, :])
    counts = (near > _SLOPE) & (near <= side // 12) & ~is_grid[None, :]
    return np.array([np.median(likeness[row]) for row in counts])


def _of_grid(likeness: NDArray[np.float64], shifts: NDArray[np.int64], side: int) -> NDArray[np.float64]:
    """What JPEG's grid explains at each shift: on the grid, as much as at the grid's shifts on either side; else nothing."""
    step = side // _GRID
    peak = {shift: likeness[np.abs(shifts - shift) <= 1].max() for shift in range(step, side, step)}
    explained = np.zeros(len(shifts))
    for shift in range(2 * step, side - step, step):
        explained[np.abs(shifts - shift) <= _SLOPE] = max(peak[shift - step], peak[shift + step])
    return explained


def _grid_distance(shifts: NDArray[np.int64], side: int) -> NDArray[np.int64]:
    step = side // _GRID
    return np.abs((shifts + step // 2) % step - step // 2)


def _fundamental(best: int, told: NDArray[np.float64], shifts: NDArray[np.int64]) -> float:
    """The shift of the enlargement itself, between whole ones.

    An enlargement shows at multiples of 1/f as well, often more so. And one of a JPEG's pixels shows at eighths of 1/f.
    """
    for share, least in ((1 / 3, _OF_MULTIPLE), (1 / 2, _OF_MULTIPLE), (8 / 7, _OF_GRID), (8 / 6, _OF_GRID)):
        near = np.flatnonzero(np.abs(shifts - shifts[best] * share) <= 1)
        if len(near) and told[near].max() >= least * told[best]:
            best = int(near[np.argmax(told[near])])
            break
    around = slice(max(0, best - 1), best + 2)
    return float(np.average(shifts[around], weights=told[around]))
