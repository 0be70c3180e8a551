"""What counts as near: for colours that may be far away, and for misses too small to be seen.

Both are given as matrices G over Oklab in `oklab.UNITS`: a colour off by d is ‖G d‖ away.
"""

from itertools import combinations
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import lab_from_xyz
from filmhand.colour.oklab import UNITS, oklab_from_xyz, xyz_from_oklab

Floats = NDArray[np.float64]

_HUE_COST: Final = 1.5
"""How many times a turn of hue costs the same change of chroma or lightness, where the colour is a strong one."""
_CHROMA_COST: Final = 3.0
"""How many times a tint costs the same change of lightness, where the colour is a gray: black stays neutral."""
_GRAY: Final = 0.04
"""Oklab chroma up to which a colour counts rather as gray, whose hue is of no account."""
_STEP: Final = 0.05
"""Length of the steps by which ΔE00 is felt out, in Oklab units: small beside its curvature, large beside rounding."""


def far_metric(xyz: Floats) -> Floats:
    """G (m, 3, 3) about colours (m, 3), XYZ, for misses of any length: hue is kept before chroma and lightness, grays stay gray.

    The unit matrix, with a and b stretched by `_CHROMA_COST` in grays, and in strong colours by `_HUE_COST` along the hue's
    tangent; in between some of each. Our own, no source.
    """
    target = oklab_from_xyz(xyz)
    chroma = np.hypot(target[:, 1], target[:, 2])
    tangent = np.stack([-target[:, 2], target[:, 1]], axis=-1) / np.maximum(chroma, 1e-12)[:, None]
    strong = (chroma**2 / (chroma**2 + _GRAY**2))[:, None, None]
    metric = np.tile(np.eye(3), (len(target), 1, 1))
    metric[:, 1:, 1:] += (_CHROMA_COST - 1) * (1 - strong) * np.eye(2)
    metric[:, 1:, 1:] += (_HUE_COST - 1) * strong * tangent[:, :, None] * tangent[:, None, :]
    return metric


def near_metric(xyz: Floats) -> Floats:
    """G (m, 3, 3) about colours (m, 3), XYZ above 0, by which small misses are as long as their ΔE00.

    ΔE00 of small steps is the root of a quadratic form (its metric tensor, as of every smooth distance); felt out along the three
    axes and between them, and taken apart by Cholesky's method.
    """
    target = oklab_from_xyz(xyz) * UNITS
    axes = np.eye(3) * _STEP
    squares = np.empty((len(xyz), 3, 3))
    for i in range(3):
        squares[:, i, i] = _squared(target, axes[i])
    for i, j in combinations(range(3), 2):
        both = _squared(target, axes[i] + axes[j])
        squares[:, i, j] = squares[:, j, i] = (both - squares[:, i, i] - squares[:, j, j]) / 2
    lower = np.linalg.cholesky(squares / _STEP**2)
    return np.ascontiguousarray(lower.transpose(0, 2, 1))


def _squared(target: Floats, step: Floats) -> Floats:
    """ΔE00 squared (m,) between the two ends of a step (3,) centred on colours (m, 3), Oklab units."""
    return np.asarray(difference(_lab(target - step / 2), _lab(target + step / 2)) ** 2)


def _lab(oklab: Floats) -> Floats:
    """CIELAB (m, 3) of Oklab (m, 3) in `UNITS`."""
    return lab_from_xyz(xyz_from_oklab(oklab / UNITS))
