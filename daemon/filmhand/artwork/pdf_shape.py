"""Boxes around what a PDF's operators draw (ISO 32000-2 sections 8.5.2 and 9.4), in the page's own units."""

from typing import Any, Final

import pikepdf

from filmhand.artwork.pdf_objects import number

Sides = tuple[float, float, float, float]
Matrix = tuple[float, float, float, float, float, float]

IDENTITY: Final = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)

_LETTER: Final = 0.5
"""A letter's mean width in its size, and how much of its size stands above the line: common practice, no source."""

_POINTS: Final = {"m": 1, "l": 1, "c": 3, "v": 2, "y": 2}


def multiplied(first: Matrix, then: Matrix) -> Matrix:
    """The matrix that does one, then the other (section 8.3.4)."""
    a, b, c, d, e, f = first
    p, q, r, s, t, u = then
    return (a * p + b * r, a * q + b * s, c * p + d * r, c * q + d * s, e * p + f * r + t, e * q + f * s + u)


def matrix_of(values: list[Any]) -> Matrix:
    """A matrix of six numbers; of anything else the one that changes nothing."""
    if len(values) != len(IDENTITY):
        return IDENTITY
    a, b, c, d, e, f = (number(value, default) for value, default in zip(values, IDENTITY, strict=True))
    return (a, b, c, d, e, f)


class Shape:
    """The path being built, and where the next letter stands."""

    def __init__(self) -> None:
        self._box: Sides | None = None
        self._line: Matrix = IDENTITY
        self._leading = 0.0
        self._gone = 0.0

    def follow(self, operator: str, values: list[float], matrix: Matrix) -> None:
        """Take in an operator that builds a path or places text; others are let be."""
        count = _POINTS.get(operator)
        if count is not None and len(values) == 2 * count:
            self._add(list(zip(values[0::2], values[1::2], strict=True)), matrix)
        elif operator == "re" and len(values) == 4:  # noqa: PLR2004 -- x, y, width, height
            x, y, width, height = values
            self._add([(x, y), (x + width, y), (x, y + height), (x + width, y + height)], matrix)
        elif operator == "BT":
            self._start(IDENTITY)
        elif operator == "Tm" and len(values) == len(IDENTITY):
            self._start(matrix_of(values))
        elif operator in {"Td", "TD"} and len(values) == 2:  # noqa: PLR2004 -- x, y
            self._leading = -values[1] if operator == "TD" else self._leading
            self._start(multiplied((1.0, 0.0, 0.0, 1.0, values[0], values[1]), self._line))
        elif operator == "TL" and values:
            self._leading = values[0]
        elif operator == "T*":
            self._next_line()

    def taken(self) -> Sides | None:
        """The box around the path, which is then begun anew; None if there is none."""
        box, self._box = self._box, None
        return box

    def lettered(self, operator: str, operands: list[Any], size: float, matrix: Matrix) -> Sides:
        """The box around lettering of a size, about: letters are taken as half as wide as they are high."""
        if operator in {"'", '"'}:
            self._next_line()
        parts = list(operands[-1]) if operands and isinstance(operands[-1], pikepdf.Array) else operands[-1:]
        letters = sum(len(bytes(part)) for part in parts if isinstance(part, pikepdf.String))
        begin, self._gone = self._gone, self._gone + letters * size * _LETTER
        corners = [(x, y) for x in (begin, self._gone) for y in (0.0, size * _LETTER)]
        return _around(corners, multiplied(self._line, matrix))

    @staticmethod
    def square(matrix: Matrix) -> Sides:
        """The box around an image."""
        return _around([(0.0, 0.0), (1.0, 0.0), (0.0, 1.0), (1.0, 1.0)], matrix)

    def _add(self, points: list[tuple[float, float]], matrix: Matrix) -> None:
        left, bottom, right, top = _around(points, matrix)
        if self._box is not None:
            left, bottom = min(left, self._box[0]), min(bottom, self._box[1])
            right, top = max(right, self._box[2]), max(top, self._box[3])
        self._box = (left, bottom, right, top)

    def _start(self, line: Matrix) -> None:
        self._line, self._gone = line, 0.0

    def _next_line(self) -> None:
        self._start(multiplied((1.0, 0.0, 0.0, 1.0, 0.0, -self._leading), self._line))


def _around(points: list[tuple[float, float]], matrix: Matrix) -> Sides:
    a, b, c, d, e, f = matrix
    across = [a * x + c * y + e for x, y in points]
    up = [b * x + d * y + f for x, y in points]
    return (min(across), min(up), max(across), max(up))
