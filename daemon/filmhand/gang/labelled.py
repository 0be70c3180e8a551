"""A copy with its label: where beside the film the label lies, and the shape that is nested for both.

A gap between two copies belongs half to each. So the label keeps half a gap from its own copy's film, and of the label only so
much is reserved in the nested shape that what keeps the whole gap from that keeps half a gap from the label: all but a border.
Where the label is the outermost the border is kept, for the shape may lie at the edge of the printable film. Labels lie outside
the design as it is cut out by hand: never in its holes, its bays, or between its parts.
"""

import math
from dataclasses import dataclass
from typing import Any, Final

import cv2
import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.polygon import orient
from shapely.ops import nearest_points

from filmhand.gang.cells import COARSEST_MM, Cells
from filmhand.gang.outline import Outline
from filmhand.gang.shape import Rect, Shape
from filmhand.rule_values import Nest

LABEL_MM: Final = (36.0, 11.0)
"""Width and height of every label: room for a QR code of version 3 with its quiet zone, and two lines of text."""

_PITCH_MM: Final = 0.5
"""Places are tried on a grid this fine."""
_BRIDGE_MM: Final = 0.2
"""Half the width of the bridge between film and label. It prints nothing."""
_THINNEST_MM: Final = 0.05
_ROUNDING: Final = 1e-6
_FAR_MM: Final = 20.0
"""At this distance from the copy, free film is counted twice: what lies between can hardly be used. No source."""
_BOX_SHARE: Final = {Nest.OUTLINE: 0.2, Nest.BOX: 1.0}
"""What area added to the box costs, next to that of the label: neighbours nested by outline still use most of it. No source."""
_OUTLINE_SHARE: Final = {Nest.OUTLINE: 1.0, Nest.BOX: 0.01}

_Corners = tuple[NDArray[Any], NDArray[Any]]
"""Left and top, right and bottom."""


@dataclass(frozen=True)
class Room:
    """The strip that a copy with its label must fit, mm; `turns`: it may lie along the strip as well as across."""

    width_mm: float
    length_mm: float
    turns: bool

    def takes(self, across: NDArray[np.float64], down: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Whether boxes of these widths and heights fit."""
        upright = (across <= self.width_mm) & (down <= self.length_mm)
        return upright | ((down <= self.width_mm) & (across <= self.length_mm)) if self.turns else upright


_ANY_ROOM: Final = Room(math.inf, math.inf, turns=False)


def labelled(
    outline: Outline, *, gap_mm: float, nest: Nest = Nest.OUTLINE, slanting: bool = False, room: Room = _ANY_ROOM
) -> Shape:
    """A copy with its label where that takes the least film, on any side of it or in a corner, upright or turned.

    `outline`: as laid on film. `nest`: whether the polygon's area counts, or that of the box. `slanting`: copies may lie at
    other angles than quarter turns. Without a label where the copy fits the room, but with a label beside it does not.
    """
    ground = _Ground.around(outline, gap_mm, nest)
    sizes = ((LABEL_MM, 0.0), (LABEL_MM[::-1], 90.0))
    place, rotation = min((ground.best(size, room), rotation) for size, rotation in sizes)
    if math.isinf(place.cost):
        return Shape.plain(outline)
    width, height = LABEL_MM if rotation == 0 else LABEL_MM[::-1]
    label = shapely.box(place.left_mm, place.top_mm, place.left_mm + width, place.top_mm + height)
    return _joined(outline, label, rotation, border_mm=0.0 if slanting else gap_mm * math.sqrt(0.125))


@dataclass(frozen=True, order=True)
class _Place:
    """A place for the label. `cost`: mm² of film, as weighed."""

    cost: float
    left_mm: float
    top_mm: float


@dataclass(frozen=True, eq=False)
class _Ground:
    """The film around a copy on a grid of _PITCH_MM that begins at `start_mm`, left and top of the picture.

    `taken`: sums (rows + 1 × columns + 1 float64) over the cells where no label may lie; `worth`: the same over what a
    cell costs as free film, mm².
    """

    size_mm: tuple[float, float]
    start_mm: float
    taken: NDArray[np.float64]
    worth: NDArray[np.float64]
    box_share: float

    @classmethod
    def around(cls, outline: Outline, gap_mm: float, nest: Nest) -> "_Ground":
        border = math.ceil((max(LABEL_MM) + gap_mm) / _PITCH_MM)
        film = np.pad(_coarse(outline), border)
        ring = np.rint(outline.ring() / _PITCH_MM + border - 0.5).astype(np.int32)
        taken = _near(film, gap_mm / 2) | _design(film.shape, ring)
        worth = _OUTLINE_SHARE[nest] * _PITCH_MM**2 * (1 + _distances(_filled(film.shape, ring)) / _FAR_MM)
        return cls(
            (outline.width_mm, outline.height_mm),
            -border * _PITCH_MM,
            _sums(taken),
            _sums(worth),
            _BOX_SHARE[nest],
        )

    def best(self, size_mm: tuple[float, float], room: Room) -> _Place:
        """The cheapest place for a label of this width and height beside the copy; its cost is infinite where none has room."""
        columns, rows = (math.ceil(side / _PITCH_MM) for side in size_mm)
        tops, lefts = np.nonzero(_in_boxes(self.taken, rows, columns) == 0)
        xs, ys = lefts * _PITCH_MM + self.start_mm, tops * _PITCH_MM + self.start_mm
        width, height = self.size_mm
        across = np.maximum(xs + size_mm[0], width) - np.minimum(xs, 0)
        down = np.maximum(ys + size_mm[1], height) - np.minimum(ys, 0)
        cost = _in_boxes(self.worth, rows, columns)[tops, lefts] + self.box_share * (across * down - width * height)
        cost[~room.takes(across + 2 * COARSEST_MM, down + 2 * COARSEST_MM)] = math.inf  # the shape's box is rounded up to cells
        best = int(np.argmin(cost))
        return _Place(float(cost[best]), float(xs[best]), float(ys[best]))


def _coarse(outline: Outline) -> NDArray[np.bool_]:
    """The outline's film on the grid, True = a cell of film reaches into it."""
    mask = outline.cells.mask()
    for axis, side in ((0, outline.height_mm), (1, outline.width_mm)):
        cells = mask.shape[axis]
        edges = np.arange(math.ceil(side / _PITCH_MM) + 1) * (_PITCH_MM * cells / side)
        first = np.floor(edges[:-1]).astype(np.intp).clip(0, cells - 1)
        last = np.ceil(edges[1:]).astype(np.intp).clip(1, cells)
        padded = np.pad(mask, [(0, int(axis == 0)), (0, int(axis == 1))])
        # reduceat joins [first, last) at even places; the blank cell lets `last` be the side itself.
        ends = np.stack([first, last], axis=1).ravel()
        mask = np.take(np.logical_or.reduceat(padded, ends, axis=axis), np.arange(0, len(ends), 2), axis=axis)
    return mask


def _near(film: NDArray[np.bool_], distance_mm: float) -> NDArray[np.bool_]:
    """Cells that may come nearer to film than a distance: measured between centres, less a cell's diagonal."""
    return np.asarray(_distances(film) < distance_mm + math.sqrt(2) * _PITCH_MM)


def _design(shape: tuple[int, ...], ring: NDArray[np.int32]) -> NDArray[np.bool_]:
    """Where the design lies as scissors cut it out: within its convex hull. A label in a bay would be pressed with it."""
    return _filled(shape, np.asarray(cv2.convexHull(ring)[:, 0], np.int32))


def _filled(shape: tuple[int, ...], ring: NDArray[np.int32]) -> NDArray[np.bool_]:
    mask = np.zeros(shape, np.uint8)
    cv2.fillPoly(mask, [ring], 1)
    return mask.view(np.bool_)


def _distances(mask: NDArray[np.bool_]) -> NDArray[np.float32]:
    """Of each cell's centre to the nearest set one's, mm."""
    distances = cv2.distanceTransform((~mask).view(np.uint8), cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    return np.asarray(distances * _PITCH_MM, np.float32)


def _sums(values: NDArray[Any]) -> NDArray[np.float64]:
    """Sums over all cells above and to the left, rows + 1 × columns + 1."""
    return np.pad(values.astype(np.float64).cumsum(axis=0).cumsum(axis=1), ((1, 0), (1, 0)))


def _in_boxes(sums: NDArray[np.float64], rows: int, columns: int) -> NDArray[np.float64]:
    """Sums over every box of so many cells, by its first row and column."""
    return sums[rows:, columns:] - sums[:-rows, columns:] - sums[rows:, :-columns] + sums[:-rows, :-columns]


def _joined(outline: Outline, label: Polygon, rotation_deg: float, *, border_mm: float) -> Shape:
    """The shape of both. `border_mm`: of the label's edge that need not be reserved: its corners are √2 times as far away."""
    size = np.array([outline.width_mm, outline.height_mm])
    cell = size / (outline.cells.columns, outline.cells.rows)
    low, high = np.reshape(label.bounds, (2, 2))
    before = np.ceil(np.maximum(-low, 0) / cell).astype(int)
    after = np.ceil(np.maximum(high - size, 0) / cell).astype(int)
    shift = before * cell
    reserved = _reserved((low, high), outline.ring(), border_mm)
    first, last = np.floor(reserved[0] / cell + _ROUNDING), np.ceil(reserved[1] / cell - _ROUNDING)  # in whole cells
    ring = _tied(Polygon(outline.ring() + shift), shapely.box(*(first * cell + shift), *(last * cell + shift)))
    width, height = size + (before + after) * cell
    shape = Outline(
        tuple((float(x), float(y)) for x, y in ring),
        float(width),
        float(height),
        _with_reserved(outline.cells, (before, after), first.astype(int) + before, last.astype(int) + before),
        tuple(tuple((float(x + shift[0]), float(y + shift[1])) for x, y in hole) for hole in outline.holes),
    )
    place = np.maximum(low + shift, 0.0)
    return Shape(
        shape,
        picture=Rect(float(shift[0]), float(shift[1]), outline.width_mm, outline.height_mm),
        label=Rect(float(place[0]), float(place[1]), *(float(side) for side in high - low)),
        label_rotation_deg=rotation_deg,
    )


def _reserved(label: _Corners, ring: NDArray[np.float64], border_mm: float) -> _Corners:
    """What of the label is reserved: all but a border, which it keeps where it is the outermost, at the film's edge too."""
    low, high = label
    border = np.minimum(border_mm, (high - low - _THINNEST_MM) / 2)
    return np.where(low < ring.min(axis=0), low, low + border), np.where(high > ring.max(axis=0), high, high - border)


def _tied(art: Polygon, reserved: Polygon) -> NDArray[np.float64]:
    """One simple ring n×2 around both, in the outline's direction."""
    bridge = shapely.LineString(nearest_points(art, reserved)).buffer(_BRIDGE_MM, cap_style="square")
    whole = shapely.union_all([art, reserved, bridge])
    ring: NDArray[np.float64] = shapely.get_coordinates(orient(Polygon(whole.exterior)).exterior)[:-1]
    return ring


def _with_reserved(cells: Cells, around: _Corners, first: NDArray[np.int64], last: NDArray[np.int64]) -> Cells:
    """Cells with so many more before and after (columns, rows), set from `first` to `last` (not included)."""
    before, after = around
    mask = np.pad(cells.mask(), ((before[1], after[1]), (before[0], after[0])))
    mask[first[1] : last[1], first[0] : last[0]] = True
    return Cells.of(mask)
