"""Bradford's linear chromatic adaptation (ICC.1:2010 annex E, after Lam 1985, "Metamerism and Colour Constancy")."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

# ICC.1:2010 annex E.3: sharpened cone responses of XYZ.
_CONES: Final = np.array([[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]])


def bradford(white: Floats, *, to: Floats) -> Floats:
    """The 3×3 matrix that takes XYZ seen under `white` to XYZ of the same look under the white `to`; both XYZ with Y 1."""
    gain = (_CONES @ to) / (_CONES @ white)
    return np.asarray(np.linalg.solve(_CONES, gain[:, None] * _CONES))
