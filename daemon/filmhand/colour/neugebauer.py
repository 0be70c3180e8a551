"""The Neugebauer model with Yule and Nielsen's factor: the colour of halftoned inks from the colours of their overprints.

Neugebauer 1937 ("Die theoretischen Grundlagen des Mehrfarbenbuchdrucks"), areas by Demichel 1924, factor n by Yule and
Nielsen 1951; in the form R^(1/n) = Σ p_i P_i^(1/n) of Viggiano 1985. Here R and P are X, Y and Z, not spectra.
"""

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def demichel(areas: Floats) -> Floats:
    """The share (..., 2^k) of each overprint where k inks (..., k), 0 to 1, lie independently.

    Overprint s has ink i in it where bit i of s is set: 0 is the bare ground, 2^k - 1 every ink. Shares add up to 1.
    """
    shares = np.ones((*areas.shape[:-1], 1))
    for i in range(areas.shape[-1]):
        area = areas[..., i, None]
        shares = np.concatenate([shares * (1 - area), shares * area], axis=-1)
    return shares


def mixed(areas: Floats, *, primaries: Floats, n: float) -> Floats:
    """XYZ (..., 3) of ink areas (..., k) whose overprints, in `demichel`'s order, have the XYZ `primaries` (2^k, 3)."""
    return np.asarray((demichel(areas) @ to_mixing_space(primaries, n)) ** n)


def to_mixing_space(xyz: Floats, n: float) -> Floats:
    """XYZ^(1/n), in which areas add up; what no light can be (below 0) counts as 0."""
    return np.asarray(np.maximum(xyz, 0) ** (1 / n))


def between(first: Floats, second: Floats, share: Floats | float, *, n: float) -> Floats:
    """XYZ (..., 3) on the way from a first colour to a second (share 1), in the space in which areas add up."""
    start, end = to_mixing_space(first, n), to_mixing_space(second, n)
    return np.asarray((start + share * (end - start)) ** n)
