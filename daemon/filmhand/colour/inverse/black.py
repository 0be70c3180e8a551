"""Black generation: how much K a colour shall have, of all the mixtures that give the colour.

Light is a skeleton black: K draws only the deep tones near gray. Medium and heavy begin in lighter and in stronger colours. The
curves are our own; that black generation is told by where K sets in, how steeply, and how far from gray it reaches, is common
practice, no source.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.oklab import oklab_from_xyz
from filmhand.rules import BlackGeneration

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class _Onset:
    """Where black sets in: at what Oklab lightness, how steeply, and at what chroma half of it is left."""

    lightness: float
    power: float
    chroma: float


_ONSETS: Final = {
    BlackGeneration.LIGHT: _Onset(0.55, 1.8, 0.05),
    BlackGeneration.MEDIUM: _Onset(0.85, 1.6, 0.10),
    BlackGeneration.HEAVY: _Onset(0.95, 1.3, 0.25),
}


def wanted_black(xyz: Floats, black: BlackGeneration, *, darkest: Floats) -> Floats:
    """K (m,), 0 to 1, that black generation asks for in colours (m, 3), XYZ; `darkest` (3,) is the darkest print.

    Least ink asks for as much as the colour can take: K stands in for three inks.
    """
    if black is BlackGeneration.LEAST_INK:
        return np.ones(len(xyz))
    onset, target = _ONSETS[black], oklab_from_xyz(xyz)
    depth = np.clip((onset.lightness - target[:, 0]) / (onset.lightness - oklab_from_xyz(darkest)[0]), 0, 1)
    chroma = np.hypot(target[:, 1], target[:, 2])
    return np.asarray(depth**onset.power / (1 + (chroma / onset.chroma) ** 2))
