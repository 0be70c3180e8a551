"""Lengths as plain decimals: SVG, PDF and DXF all take them, exponents not everywhere."""


def number(mm: float) -> str:
    """A length to a thousandth of a millimetre, without needless zeros."""
    text = f"{mm:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
