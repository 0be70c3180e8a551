"""The CIEDE2000 colour difference (ISO/CIE 11664-6), after Sharma, Wu and Dalal 2005.

"The CIEDE2000 Color-Difference Formula: Implementation Notes, Supplementary Test Data, and Mathematical Observations",
Color Research and Application 30 (1), 21 to 30. Equation numbers below are that paper's. Weights kL, kC, kH are 1.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_POW25_7: Final = 25.0**7
_TURN: Final = 360.0


def difference(first: Floats, second: Floats) -> Floats:
    """ΔE00 (...) between CIELAB colours (..., 3), which are broadcast against each other. Symmetric; 0 for equal colours."""
    L1, a1, b1 = (first[..., i] for i in range(3))
    L2, a2, b2 = (second[..., i] for i in range(3))
    mean_c = (np.hypot(a1, b1) + np.hypot(a2, b2)) / 2  # (2), (3)
    g = 1 + 0.5 * (1 - _seventh_root_share(mean_c))  # (4), (5)
    C1, C2 = np.hypot(g * a1, b1), np.hypot(g * a2, b2)  # (6)
    h1, h2 = _hue_deg(g * a1, b1), _hue_deg(g * a2, b2)  # (7)
    gray = C1 * C2 == 0
    turn = np.where(
        gray, 0.0, (h2 - h1 + _TURN / 2) % _TURN - _TURN / 2
    )  # (10); at exactly 180 the sign is of no consequence below
    dL, dC = L2 - L1, C2 - C1  # (8), (9)
    dH = 2 * np.sqrt(C1 * C2) * np.sin(np.radians(turn) / 2)  # (11)
    L, C, h = (L1 + L2) / 2, (C1 + C2) / 2, _mean_hue_deg(h1, h2, gray)  # (12), (13), (14)
    T = 1 - 0.17 * _cos(h - 30) + 0.24 * _cos(2 * h) + 0.32 * _cos(3 * h + 6) - 0.20 * _cos(4 * h - 63)  # (15)
    SL = 1 + 0.015 * (L - 50) ** 2 / np.sqrt(20 + (L - 50) ** 2)  # (18)
    SC, SH = 1 + 0.045 * C, 1 + 0.015 * C * T  # (19), (20)
    rotation = np.radians(60 * np.exp(-(((h - 275) / 25) ** 2)))  # twice (16)
    RT = -2 * _seventh_root_share(C) * np.sin(rotation)  # (17), (21)
    squares = (dL / SL) ** 2 + (dC / SC) ** 2 + (dH / SH) ** 2 + RT * (dC / SC) * (dH / SH)  # (22)
    return np.asarray(np.sqrt(np.maximum(squares, 0)))


def _seventh_root_share(chroma: Floats) -> Floats:
    power = chroma**7
    return np.asarray(np.sqrt(power / (power + _POW25_7)))


def _hue_deg(a: Floats, b: Floats) -> Floats:
    return np.asarray(np.degrees(np.arctan2(b, a)) % _TURN)


def _mean_hue_deg(h1: Floats, h2: Floats, gray: NDArray[np.bool_]) -> Floats:
    """The mean hue by the paper's four cases; a gray has none, and the other colour's counts."""
    total = h1 + h2
    around = np.where(total < _TURN, total + _TURN, total - _TURN) / 2
    return np.where(gray, total, np.where(np.abs(h1 - h2) <= _TURN / 2, total / 2, around))


def _cos(degrees: Floats) -> Floats:
    return np.asarray(np.cos(np.radians(degrees)))
