"""A block alphabet of our own: letters as strokes on a grid, thickened into outlines. No font file is needed."""

from shapely import affinity
from shapely.geometry import LineString, box
from shapely.geometry.base import BaseGeometry
from shapely.ops import unary_union

# Strokes run over a grid 6 high (y down) and mostly 4 wide; "|" begins a new stroke.
_ROUND = "1 0 3 0 4 1 4 5 3 6 1 6 0 5 0 1 1 0"
_STROKES = {
    "A": "0 6 0 1.5 1.5 0 2.5 0 4 1.5 4 6|0 3.9 4 3.9",
    "B": "0 3 3 3 4 2 4 1 3 0 0 0 0 6 3 6 4 5 4 4 3 3",
    "C": "4 1.6 4 1 3 0 1 0 0 1 0 5 1 6 3 6 4 5 4 4.4",
    "D": "0 0 2.8 0 4 1.2 4 4.8 2.8 6 0 6 0 0 1 0",
    "E": "4 0 0 0 0 6 4 6|0 3 3.1 3",
    "F": "4 0 0 0 0 6|0 3 3.1 3",
    "G": "4 1.4 4 1 3 0 1 0 0 1 0 5 1 6 3 6 4 5 4 3.5 2.6 3.5",
    "H": "0 0 0 6|4 0 4 6|0 3 4 3",
    "I": "0 0 0 6",
    "J": "4 0 4 5 3 6 1 6 0 5 0 4.4",
    "K": "0 0 0 6|0 3 1.2 3 4 0.5 4 0|0 3 1.2 3 4 5.5 4 6",
    "L": "0 0 0 6 4 6",
    "M": "0 6 0 0 2.5 3 5 0 5 6",
    "N": "0 6 0 0 4 6 4 0",
    "O": _ROUND,
    "P": "0 6 0 0 3 0 4 1 4 2.6 3 3.6 0 3.6",
    "Q": _ROUND + "|2.4 4.2 3.5 5.5",
    "R": "0 6 0 0 3 0 4 1 4 2.4 3 3.4 0 3.4|1 3.4 2.3 3.4 4 5.1 4 6",
    "S": "4 1.2 4 1 3 0 1 0 0 1 0 2 1 3 3 3 4 4 4 5 3 6 1 6 0 5 0 4.8",
    "T": "0 0 4 0|2 0 2 6",
    "U": "0 0 0 5 1 6 3 6 4 5 4 0",
    "V": "0 0 0 3.2 2 6 4 3.2 4 0",
    "W": "0 0 0 6 2.5 3 5 6 5 0",
    "X": "0 0 4 6|4 0 0 6",
    "Y": "0 0 0 1.4 2 3.4 4 1.4 4 0|2 3.4 2 6",
    "Z": "0 0 4 0 4 0.7 0 5.3 0 6 4 6",
    "0": _ROUND,
    "1": "0 1.2 1.2 0 1.2 6",
    "2": "0 1.5 0 1 1 0 3 0 4 1 4 2.2 0 5.2 0 6 4 6",
    "3": "0 1.4 0 1 1 0 3 0 4 1 4 2 3 3 1.5 3|3 3 4 4 4 5 3 6 1 6 0 5 0 4.6",
    "4": "3.2 6 3.2 0 2.6 0 0 4.2 4 4.2",
    "5": "4 0 0 0 0 2.6 3 2.6 4 3.6 4 5 3 6 1 6 0 5 0 4.6",
    "6": "4 1.5 4 1 3 0 1 0 0 1 0 5 1 6 3 6 4 5 4 3.8 3 2.8 0 2.8",
    "7": "0 0 4 0 4 0.8 1.6 4 1.6 6",
    "8": "1 3 0 2 0 1 1 0 3 0 4 1 4 2 3 3 1 3 0 4 0 5 1 6 3 6 4 5 4 4 3 3",
    "9": "0 4.5 0 5 1 6 3 6 4 5 4 1 3 0 1 0 0 1 0 2.2 1 3.2 4 3.2",
    "&": "4 6 0.7 1.8 0.7 1 1.6 0 2.3 0 3 0.8 3 1.5 0 3.9 0 5 1 6 2.5 6 4 4.2 4 3.6",
    ".": "0 5.9 0 6",
    "-": "0 3 2 3",
    "'": "0 0 0 1.2",
    "·": "0 2.9 0 3.1",
}
_HEIGHT = 6.0
_SPACE = 2.4


def lettering(text: str, *, height: float, weight: float = 1.25, spacing: float = 0.7) -> BaseGeometry:
    """A line of capitals as one outline, its left end at x 0 and its foot at y 0 (y down), in the unit of `height`.

    `weight` is the stroke's thickness and `spacing` the gap between letters, both in sixths of the skeleton's height.
    """
    return unary_union([letter for letter, _ in spaced_letters(text, height=height, weight=weight, spacing=spacing)])


def spaced_letters(text: str, *, height: float, weight: float, spacing: float) -> list[tuple[BaseGeometry, float]]:
    """The letters of `lettering` one by one, each with the x of its middle."""
    scale = height / (_HEIGHT + weight)
    letters, left = [], 0.0
    for sign in text.upper():
        if sign == " ":
            left += _SPACE
            continue
        glyph = _glyph(sign, weight)
        width = glyph.bounds[2]
        placed = affinity.translate(glyph, left, -_HEIGHT - weight)
        letters.append((affinity.scale(placed, scale, scale, origin=(0, 0)), (left + width / 2) * scale))
        left += width + spacing
    return letters


def on_arc(text: str, *, radius: float, height: float, weight: float = 1.25, spacing: float = 0.9) -> BaseGeometry:
    """A line of capitals round the outside of a circle about (0, 0), its middle at the top.

    With a negative radius it reads along the bottom.
    """
    letters = spaced_letters(text, height=height, weight=weight, spacing=spacing)
    middle = (letters[0][0].bounds[0] + letters[-1][0].bounds[2]) / 2
    turned = []
    for letter, centre in letters:
        at_foot = affinity.translate(letter, -centre, -radius if radius > 0 else -radius + height)
        turned.append(affinity.rotate(at_foot, (centre - middle) / radius, origin=(0, 0), use_radians=True))
    return unary_union(turned)


def _glyph(sign: str, weight: float) -> BaseGeometry:
    lines = []
    for stroke in _STROKES[sign].split("|"):
        numbers = [float(number) for number in stroke.split()]
        lines.append(LineString(list(zip(numbers[::2], numbers[1::2], strict=True))))
    thick = unary_union([line.buffer(weight / 2, cap_style="square", join_style="mitre") for line in lines])
    right = max(line.bounds[2] for line in lines)
    inside = thick.intersection(box(-weight / 2, -weight / 2, right + weight / 2, _HEIGHT + weight / 2))
    return affinity.translate(inside, weight / 2, weight / 2)
