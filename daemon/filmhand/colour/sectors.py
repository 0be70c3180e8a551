"""Hue sectors: which inks are ever printed together. More than four at once would need a chart that no one can print or measure.

An ink beside the three process colours takes the place of the two it lies between by hue, so it meets only inks of near hues and
black. So the hue circle has been divided for more inks than four since H. Küppers (US patent 4,812,899, 1989; from memory).
"""

from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Final

from filmhand.rules import WHITE, Ink

CIRCLE: Final = (Ink.YELLOW, Ink.ORANGE, Ink.RED, Ink.MAGENTA, Ink.BLUE, Ink.CYAN, Ink.GREEN)
"""Coloured inks around the hue circle; after green comes yellow again."""
_PROCESS: Final = frozenset({Ink.CYAN, Ink.MAGENTA, Ink.YELLOW})
_MOST: Final = 4
"""Inks in a sector."""

__all__ = ["CIRCLE", "sectors"]


def sectors(inks: Sequence[str]) -> tuple[tuple[str, ...], ...]:
    """Inks that may lie on one another, at most four in each sector, white left out.

    The process colours come first; then the further inks between two of them on the circle, each with its next neighbour and the
    earlier of the two. Each sector keeps the order of `inks` but for black, which is in every one, last. Every pair of neighbours
    on the circle is in some sector, and no sector lies wholly within another.
    """
    colours = [ink for ink in CIRCLE if ink in inks]
    black = [Ink.BLACK] if Ink.BLACK in inks else []
    few = len(colours) + len(black) <= _MOST
    found = [frozenset(colours)] if few else list(dict.fromkeys(_groups(colours)))
    whole = [one for one in found if not any(one < other for other in found)]
    ordered = [ink for ink in inks if ink not in (WHITE, Ink.BLACK)]
    named = [tuple(ink for ink in ordered if ink in one) + tuple(str(ink) for ink in black) for one in whole]
    return tuple(sector for sector in named if sector)


def _groups(colours: list[Ink]) -> Iterator[frozenset[Ink]]:
    """Coloured inks of each candidate, given in the order of the circle.

    Drawn on the circle they are triangles side by side, which fill the polygon of all inks without lying on one another. So, were
    inks to mix like light, every colour with a given black would be printed by just one of them, and seams would not show.
    """
    process = [ink for ink in colours if ink in _PROCESS] or colours[:1]
    yield frozenset(colours) & _PROCESS
    first = colours.index(process[0])
    around = [*colours[first:], *colours[:first], process[0]]
    for ink, following in pairwise([*process, process[0]]):
        start = around.index(ink)
        end = around.index(following, start + 1)
        yield from (frozenset({ink, *pair}) for pair in pairwise(around[start + 1 : end + 1]))
        if end == start + 1:
            yield frozenset({ink, following})
