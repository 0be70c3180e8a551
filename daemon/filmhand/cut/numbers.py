"""Lengths as plain decimals: SVG, PDF and DXF all take them, exponents not everywhere."""

import numpy as np

from filmhand.cut.contour import Ring


def number(mm: float) -> str:
    """A length to a thousandth of a millimetre, without needless zeros."""
    text = f"{mm:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def points(ring: Ring) -> list[tuple[float, float]]:
    """A ring's points to a thousandth of a millimetre: Python writes such numbers plainly, and as short as can be."""
    return [(x, y) for x, y in (np.round(ring, 3) + 0.0).tolist()]
