"""A long sheet cut into strips that lie side by side on a page or on several, so that the picture is as large as they allow."""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final, NamedTuple

from filmhand.delivery.operator.numbers import Box, Numbered

MOST: Final = 8
"""Strips side by side."""

_SLACK: Final = 0.12
"""Of a strip's length: how far a cut may be moved to spare a copy."""


class Room(NamedTuple):
    """What pages give a picture, mm. `gap`: between strips; `foot`: under each, for what is written there."""

    width: float
    height: float
    gap: float
    foot: float
    pages: int = 1


class Strip(NamedTuple):
    """A length of the picture, mm from its first row."""

    top: float
    bottom: float

    def holding(self, copies: Sequence[Numbered]) -> list[Numbered]:
        """Those whose number stands on this strip."""
        return [one for one in copies if self.top <= one.spot[1] < self.bottom]


@dataclass(frozen=True)
class Strips:
    """`scale`: millimetres on the page for one of the film; `beside`: how many strips lie side by side on a page."""

    strips: tuple[Strip, ...]
    scale: float
    beside: int


def cut_into_strips(width: float, length: float, boxes: Sequence[Box], *, room: Room) -> Strips:
    """The cut that shows the sheet largest; cuts are moved a little to go through as few copies as can be."""
    beside = max(range(1, MOST + 1), key=lambda number: _scale(width, length / (number * room.pages), number, room))
    count = beside * room.pages
    cuts = [0.0, *(_cut(length * place / count, length / count, boxes) for place in range(1, count)), length]
    strips = tuple(Strip(top, bottom) for top, bottom in pairwise(cuts))
    return Strips(strips, _scale(width, max(strip.bottom - strip.top for strip in strips), beside, room), beside)


def _scale(width: float, longest: float, beside: int, room: Room) -> float:
    return min((room.width - (beside - 1) * room.gap) / (beside * width), (room.height - room.foot) / longest)


def _cut(wanted: float, length: float, boxes: Sequence[Box]) -> float:
    """Near the wanted place where it crosses the least width of copies."""
    reach = _SLACK * length
    edges = (edge for box in boxes for edge in (box.top, box.top + box.height) if abs(edge - wanted) <= reach)
    return min([wanted, *edges], key=lambda place: (round(_crossed(place, boxes), 3), abs(place - wanted)))


def _crossed(place: float, boxes: Sequence[Box]) -> float:
    return sum(box.width for box in boxes if box.top < place < box.top + box.height)
