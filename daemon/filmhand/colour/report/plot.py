"""Plots as SVG text: axes with ticks and names; lines, points, areas and bars on them. Colours are CSS classes of the page."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from markupsafe import Markup, escape
from numpy.typing import NDArray

Floats = NDArray[np.float64]

WIDE: Final = (352.0, 270.0)
"""Width and height of a figure that has a telephone's whole width; units are CSS pixels there, so that text can be read."""
NARROW: Final = (172.0, 172.0)
"""Of one of two beside one another there."""
_LEFT, _RIGHT, _TOP, _BOTTOM = 44.0, 10.0, 10.0, 42.0
_TICK_GAP: Final = 5.0
_TEXT_RISE: Final = 4.0
"""Half of a digit's height."""


class Axis(NamedTuple):
    """From `low` to `high`, which may be the smaller; `name` has the unit."""

    low: float
    high: float
    ticks: tuple[float, ...]
    name: str


@dataclass(frozen=True)
class Plot:
    """An area of `size` px with two axes; `y` runs upward."""

    x: Axis
    y: Axis
    size: tuple[float, float] = WIDE

    def line(self, xs: Floats, ys: Floats, kind: str) -> Markup:
        """A line through points (m,), of the CSS class `kind`."""
        return Markup('<polyline class="{}" points="{}"/>').format(kind, self._points(xs, ys))

    def area(self, xs: Floats, ys: Floats, kind: str) -> Markup:
        """What a closed line through points (m,) holds."""
        return Markup('<polygon class="{}" points="{}"/>').format(kind, self._points(xs, ys))

    def band(self, xs: Floats, low: Floats, high: Floats, kind: str) -> Markup:
        """What lies between two lines (m,)."""
        return self.area(np.concatenate([xs, xs[::-1]]), np.concatenate([low, high[::-1]]), kind)

    def dots(self, xs: Floats, ys: Floats, kind: str) -> Markup:
        """A ring at each point (m,)."""
        circle = Markup('<circle class="{}" cx="{}" cy="{}" r="2.6"/>')
        return joined(circle.format(kind, _px(x), _px(y)) for x, y in zip(self._right(xs), self._up(ys), strict=True))

    def coloured(self, xs: Floats, ys: Floats, colours: Sequence[str]) -> Markup:
        """A thick closed line through points (m,), each piece in a colour of its own, "#rrggbb"."""
        right, up = self._right(xs), self._up(ys)
        piece = Markup('<path d="M{} {}L{} {}" stroke="{}"/>')
        rows = zip(right, up, np.roll(right, -1), np.roll(up, -1), colours, strict=True)
        return Markup('<g class="rim">{}</g>').format(joined(piece.format(*map(_px, row[:4]), row[4]) for row in rows))

    def bar(self, left: float, right: float, height: float, kind: str) -> Markup:
        """Standing on the axis, from x `left` to `right`."""
        x, width = self._right(np.array([left]))[0], abs(self._right(np.array([right]))[0] - self._right(np.array([left]))[0])
        top, foot = self._up(np.array([height]))[0], self._up(np.array([self.y.low]))[0]
        box = Markup('<rect class="{}" x="{}" y="{}" width="{}" height="{}"/>')
        return box.format(kind, _px(x + 0.5), _px(top), _px(max(width - 1, 0.5)), _px(foot - top))

    def upright(self, at: float, kind: str) -> Markup:
        """A line across the whole height."""
        return self.line(np.array([at, at]), np.array([self.y.low, self.y.high]), kind)

    def words(self, x: float, y: float, text: str, anchor: str = "start", kind: str = "name") -> Markup:
        """Text whose foot lies at a point; `anchor` is start, middle or end."""
        right, up = self._right(np.array([x]))[0], self._up(np.array([y]))[0]
        return Markup('<text class="{}" x="{}" y="{}" text-anchor="{}">{}</text>').format(kind, _px(right), _px(up), anchor, text)

    def svg(self, parts: Iterable[Markup], *, title: str) -> Markup:
        """The whole figure; `title` says it in a sentence for those who cannot see it."""
        head = Markup('<svg viewBox="0 0 {} {}" role="img" aria-label="{}">').format(_px(self.size[0]), _px(self.size[1]), title)
        return head + self._frame() + joined(parts) + Markup("</svg>")

    def _frame(self) -> Markup:
        """Grid lines, their numbers, and the axes' names."""
        left, right = _LEFT, self.size[0] - _RIGHT
        top, foot = _TOP, self.size[1] - _BOTTOM
        lines, numbers = [], []
        grid = Markup('<path class="grid" d="M{} {}L{} {}"/>')
        number = Markup('<text class="tick" x="{}" y="{}" text-anchor="{}">{}</text>')
        for tick, x in zip(self.x.ticks, self._right(np.array(self.x.ticks)), strict=True):
            lines.append(grid.format(_px(x), _px(top), _px(x), _px(foot)))
            numbers.append(number.format(_px(x), _px(foot + 16), "middle", f"{tick:g}".replace("-", "−")))
        for tick, y in zip(self.y.ticks, self._up(np.array(self.y.ticks)), strict=True):
            lines.append(grid.format(_px(left), _px(y), _px(right), _px(y)))
            numbers.append(number.format(_px(left - _TICK_GAP), _px(y + _TEXT_RISE), "end", f"{tick:g}".replace("-", "−")))
        along = Markup('<text class="axis" x="{}" y="{}" text-anchor="middle">{}</text>')
        upward = Markup('<text class="axis" transform="translate(11 {}) rotate(-90)" text-anchor="middle">{}</text>')
        names = along.format(_px((left + right) / 2), _px(self.size[1] - 6), self.x.name)
        return joined([*lines, *numbers, names, upward.format(_px((top + foot) / 2), self.y.name)])

    def _points(self, xs: Floats, ys: Floats) -> str:
        return " ".join(f"{_px(x)},{_px(y)}" for x, y in zip(self._right(xs), self._up(ys), strict=True))

    def _right(self, xs: Floats) -> Floats:
        share = (xs - self.x.low) / (self.x.high - self.x.low)
        return np.asarray(_LEFT + share * (self.size[0] - _LEFT - _RIGHT))

    def _up(self, ys: Floats) -> Floats:
        share = (ys - self.y.low) / (self.y.high - self.y.low)
        return np.asarray(self.size[1] - _BOTTOM - share * (self.size[1] - _BOTTOM - _TOP))


def joined(parts: Iterable[Markup]) -> Markup:
    """Pieces of a figure as one, later ones on top."""
    return Markup("").join(escape(part) for part in parts)


def _px(value: float) -> str:
    """A tenth of a pixel is enough."""
    return f"{round(float(value), 1) + 0.0:g}"
