"""A number for every copy of a sheet, in the order in which orders are picked, and where on the picture it stands."""

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from filmhand.delivery.operator.legible import legible

_ROW_MM: Final = 20


class Box(NamedTuple):
    """An upright box on the picture, in mm from its top left corner."""

    left: float
    top: float
    width: float
    height: float

    @property
    def middle(self) -> tuple[float, float]:
        return self.left + self.width / 2, self.top + self.height / 2


@dataclass(frozen=True)
class Numbered:
    """A copy, or a piece of one, with its number. `text`: "7", or "7a" for a piece; `spot`: where the number stands, mm."""

    job: str
    number: int
    text: str
    box: Box
    spot: tuple[float, float]


def numbered(ticket: Mapping[str, Any]) -> tuple[Numbered, ...]:
    """Every placement of a sheet's ticket: orders by urgency and name, then designs, their copies along the film.

    Positions are those of preview.png, which reads right: where the ticket says `mirrored`, x runs the other way on the film.
    """
    boxes = [on_picture(item, ticket) for item in ticket["placements"]]
    spots = _spots(boxes)
    copies: dict[tuple[Any, ...], list[int]] = {}
    for place, item in enumerate(ticket["placements"]):
        copies.setdefault((item["job"], item["copy"]), []).append(place)

    def rank(places: Sequence[int]) -> tuple[Any, ...]:
        return *_rank(ticket["placements"][places[0]]), *min(_row(boxes[place]) for place in places)

    found = []
    for number, places in enumerate(sorted(copies.values(), key=rank), 1):
        for place in sorted(places, key=lambda one: ticket["placements"][one].get("part", 0)):
            item = ticket["placements"][place]
            text = f"{number}{_letter(item.get('part', 0))}"
            found.append(Numbered(item["job"], number, text, boxes[place], spots[place]))
    return tuple(found)


def on_picture(item: Mapping[str, Any], ticket: Mapping[str, Any]) -> Box:
    """A placement's box on the right-reading picture."""
    left = ticket["film_width_mm"] - item["x_mm"] - item["width_mm"] if ticket["mirrored"] else item["x_mm"]
    return Box(left, item["y_mm"], item["width_mm"], item["height_mm"])


def _rank(item: Mapping[str, Any]) -> tuple[Any, ...]:
    """Rush first, then by due time, then by order; what has no order or due time comes last."""
    order = item.get("order")
    urgency = (not item.get("rush"), item.get("due") is None, str(item.get("due")))
    return *urgency, order is None, _natural(order), _natural(item["file"]), item["job"]


def _row(box: Box) -> tuple[float, float]:
    """Along the film, then across: copies that begin within a row of each other count as side by side."""
    return box.top // _ROW_MM, box.left


def _natural(text: object) -> list[tuple[bool, int, str]]:
    """Sorts "R9" before "R10". Digits are compared by their length first: no number is too long for that."""
    parts = re.split(r"(\d+)", legible("" if text is None else text).casefold())
    return [(part.isdecimal(), len(part.lstrip("0")) if part.isdecimal() else 0, part) for part in parts]


def _letter(part: int) -> str:
    """The pieces of a copy: 1 → a, 26 → z, 27 → aa; nothing where it lies in one piece."""
    letters = ""
    while part > 0:
        part, rest = divmod(part - 1, 26)
        letters = chr(ord("a") + rest) + letters
    return letters


def _spots(boxes: Sequence[Box]) -> list[tuple[float, float]]:
    """A copy's middle; where a smaller copy lies over that, as in a ring, the nearest place of its own."""
    if not boxes:
        return []
    corners = np.array([(box.left, box.top, box.left + box.width, box.top + box.height) for box in boxes])
    areas = np.array([box.width * box.height for box in boxes])
    return [_spot(box, corners[_rivals(box, corners, areas)]) for box in boxes]


def _rivals(box: Box, corners: NDArray[np.float64], areas: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which boxes are smaller than this and meet it."""
    left, top, right, bottom = corners.T
    meets = (left < box.left + box.width) & (right > box.left) & (top < box.top + box.height) & (bottom > box.top)
    return np.asarray(meets & (areas < box.width * box.height))


def _spot(box: Box, rivals: NDArray[np.float64]) -> tuple[float, float]:
    middle = box.middle
    if not _is_covered(middle, rivals):
        return middle
    steps = [step / 12 for step in range(1, 12)]
    places = [(box.left + box.width * i, box.top + box.height * j) for i in steps for j in steps]
    own = [place for place in places if not _is_covered(place, rivals)]
    return min(own, key=lambda place: math.dist(place, middle), default=middle)


def _is_covered(place: tuple[float, float], rivals: Iterable[Sequence[float]]) -> bool:
    x, y = place
    return any(left <= x <= right and top <= y <= bottom for left, top, right, bottom in rivals)
