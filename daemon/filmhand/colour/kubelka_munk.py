"""How a layer that scatters and absorbs light looks over a ground.

Kubelka and Munk 1931 ("Ein Beitrag zur Optik der Farbanstriche"), in the hyperbolic form of Kubelka 1948 ("New contributions to
the optics of intensely light-scattering materials"). Reflectances are 0 to 1; each channel (a wavelength, or X, Y, Z over
white's) stands for itself. Light lost at the layer's own surface is not taken apart (no Saunderson correction): grounds and
layers are as the instrument sees them.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

MOST_SCATTER: Final = 100.0
"""A layer that scatters more is not told from it: over any ground it looks the same to 1e-3 from R∞ 0.97 down."""
_NO_ABSORPTION: Final = 1e-7
"""b below this counts as 0; then tanh(bSX)/b is SX to the last digit."""


def infinite(absorption_by_scatter: Floats) -> Floats:
    """R∞ (...), the reflectance of a layer so thick that more changes nothing, from K/S (...)."""
    ratio = np.asarray(absorption_by_scatter)
    return np.asarray(1 + ratio - np.sqrt(ratio**2 + 2 * ratio))


def layer(ground: Floats, *, infinite: Floats | float, scatter: Floats | float) -> Floats:
    """Reflectance (...) of a layer over `ground` (...). `infinite`: R∞, above 0 to 1; `scatter`: SX, 0 (no layer) upwards.

    R = (1 - Rg (a - b coth bSX)) / (a - Rg + b coth bSX), a = (1/R∞ + R∞)/2, b = (1/R∞ - R∞)/2; both sides of the fraction times
    tanh(bSX)/b, so that no layer, and one that absorbs nothing, need no case of their own.
    """
    a, b = (1 / np.asarray(infinite) + infinite) / 2, (1 / np.asarray(infinite) - infinite) / 2
    absorbs = b > _NO_ABSORPTION
    turbid = np.where(absorbs, np.tanh(b * scatter) / np.where(absorbs, b, 1), scatter)
    return np.asarray((turbid * (1 - ground * a) + ground) / (turbid * (a - ground) + 1))


def layer_seen_on(grounds: tuple[Floats, Floats], seen: tuple[Floats, Floats]) -> tuple[Floats, Floats]:
    """R∞ (...) and SX (...) of one layer from its reflectances `seen` (...) over two different grounds (...): `layer` inverted.

    Solving `layer` for tanh(bSX)/b over either ground and setting both equal leaves one equation for a. Where noise asks for more
    than is possible, R∞ is 1 at most and SX `MOST_SCATTER`.
    """
    (g1, g2), (r1, r2) = grounds, seen
    rise1, rise2 = r1 - g1, r2 - g2
    above = rise1 * (1 + r2 * g2) - rise2 * (1 + r1 * g1)
    below = rise1 * (r2 + g2) - rise2 * (r1 + g1)
    a = np.maximum(above / below, 1.0)
    root = np.sqrt(a**2 - 1)
    turbid = rise1 / (1 + r1 * g1 - a * (r1 + g1))
    possible = (turbid >= 0) & (root * turbid < 1)
    reach = np.where(possible, root * turbid, 0.0)
    absorbs = root > _NO_ABSORPTION
    scatter = np.where(absorbs, np.arctanh(reach) / np.where(absorbs, root, 1), turbid)
    return np.asarray(a - root), np.minimum(np.where(possible, scatter, MOST_SCATTER), MOST_SCATTER)
