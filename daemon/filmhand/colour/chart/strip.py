"""A control strip: a few patches that are printed again and again to see whether the printer drifts."""

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np

from filmhand.colour.chart.kinds import Kind
from filmhand.colour.chart.layout import Group, lay_out
from filmhand.colour.chart.model import Chart, Wanted
from filmhand.colour.sectors import sectors
from filmhand.rules import WHITE, Ink

_TONES: Final = (100, 70, 40, 20)
_GREYS: Final = ((25, 19, 19), (50, 40, 40), (75, 64, 64))
"""C, M and Y of nearly grey tints, light to dark: those that ISO 12647-2:2004 prints for quarter, middle and three-quarter tones
(from memory). Near grey the eye sees the least drift, whatever these inks' own grey is."""
_PROCESS: Final = (Ink.CYAN, Ink.MAGENTA, Ink.YELLOW)


def control_strip(inks: Sequence[str], wanted: Wanted, *, printer: str) -> Chart:
    """Film white, each ink's full and middle tones, overprints of neighbours, and near greys; 26 patches for four inks."""
    colours = tuple(ink for ink in inks if ink != WHITE)
    rows = [[share.get(ink, 0) for ink in colours] for share in _shares(colours)]
    title = f"Control strip · {printer}"
    group = Group(np.array(rows) / 100)
    blocks, patches = lay_out([group], colours, name=Kind.STRIP, title=title, wanted=wanted)
    to_do = (
        "Print and measure it together with the chart that the ink model is fitted to: later readings are held to these.",
        "Print, press and measure it again once a week, and after every change of ink, film, powder, head or press.",
        "Measure in the order of the list, with the same instrument and backing.",
    )
    return Chart(Kind.STRIP, title, blocks, to_do, (patches,))


def _shares(colours: Sequence[str]) -> Iterator[dict[str, int]]:
    """Percent by ink of each patch."""
    yield {}
    for ink in colours:
        yield from ({ink: tone} for tone in _TONES)
    seen = set()
    for sector in sectors(colours):
        coloured = [ink for ink in sector if ink != Ink.BLACK]
        for place, one in enumerate(coloured):
            for other in coloured[place + 1 :]:
                if (pair := frozenset((one, other))) not in seen:
                    seen.add(pair)
                    yield {one: 100, other: 100}
    if set(_PROCESS) <= set(colours):
        for tint in ((100, 100, 100), *_GREYS):
            yield dict[str, int](zip(_PROCESS, tint, strict=True))
        if Ink.BLACK in colours:
            yield {**dict(zip(_PROCESS, _GREYS[1], strict=True)), Ink.BLACK: 40}
    yield {}
