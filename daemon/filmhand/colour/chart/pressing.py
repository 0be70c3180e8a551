"""Targets that are looked at on the garment: what powder and film hold, and how far white must be pulled in."""

from collections.abc import Iterator, Sequence
from typing import Final

from filmhand.colour.chart.kinds import Kind
from filmhand.colour.chart.layout import label
from filmhand.colour.chart.model import Block, Box, Chart, Disc, Mark, Text
from filmhand.rules import WHITE, Ink

SIZES_MM: Final = (0.1, 0.15, 0.2, 0.25, 0.3, 0.4, 0.5, 0.6, 0.8, 1.0)
"""Of dots, lines, holes and gaps."""
CHOKES_MM: Final = (0.0, 0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.4)
LPI: Final = (25, 30, 35, 40, 45, 50, 55, 60, 65)
TONES: Final = (5, 10, 20, 30, 40, 50, 60, 70, 80, 90, 95)
"""Percent of garment that carries film."""
_DARK_GARMENT: Final = "#1b1b1d"
_FULL: Final = {Ink.MAGENTA: 1.0, WHITE: 1.0}
"""What figures are printed in: seen on black and on white garments, and white that is missing or too wide is seen too."""
_PITCH_MM: Final = 6.0
_LEAD_MM: Final = 4.0
_PLATE_MM, _SCALE_MM = 6.0, 5.0
"""Height of the plate with a block's name, and of that below it with the sizes."""


def least(inks: Sequence[str], *, printer: str, island_choke_mm: float) -> Chart:
    """Dots and lines of film alone, and holes and gaps in solid film. White is pulled in as under screened film's islands."""
    width, height = 2 * _LEAD_MM + len(SIZES_MM) * _PITCH_MM, 42.0
    blocks = tuple(
        Block(
            name,
            (width, height),
            (*_plate(inks, name, width), *_figures(inks, solid=solid, width=width, height=height)),
            fine=True,
            choke_mm=island_choke_mm,
            garment=_DARK_GARMENT,
        )
        for name, solid in (("dots and lines", False), ("holes and gaps", True))
    )
    to_do = (
        "Powder, cure and press as orders, on the cloth you print most. Wash a second one as your customers do.",
        "The smallest dot that is whole in all three rows after washing is the rule's least_dot, the smallest hole that is open"
        " in all three its least_hole.",
        "The thinnest whole line is preflight's thin_line, the narrowest open gap its thin_gap.",
    )
    return Chart(Kind.LEAST, f"Least dot, line, hole and gap · {printer}", blocks, to_do)


def choke_ladder(inks: Sequence[str], *, printer: str) -> Chart:
    """The same figures with white pulled in further and further."""
    dark = label(inks)
    blocks = tuple(
        Block(
            f"choke {choke:g} mm",
            (46.0, 34.0),
            (*_plate(inks, f"choke {choke:.2f} mm", 46.0), *_choked(dark)),
            fine=True,
            choke_mm=choke,
            garment=_DARK_GARMENT,
        )
        for choke in CHOKES_MM
    )
    to_do = (
        "Press it on a black garment.",
        "Look for a white rim around the dark figures: the least choke without one is the rule's underbase.choke.",
        "Look at the lines: those that have turned dull have lost their white. If no choke serves both, mend registration first.",
    )
    return Chart(Kind.CHOKE, f"Choke ladder · {printer}", blocks, to_do)


def screen_ladder(inks: Sequence[str], *, printer: str) -> Chart:
    """Partial film at every screen ruling and tone."""
    step, lead, label_mm, high = 12.0, 18.0, 5.0, 12.0
    width = lead + len(TONES) * step
    blocks = []
    for lpi in LPI:
        marks = [
            Mark(Box(0, 0, width, label_mm), {WHITE: 1.0}, coverage=1.0),
            Mark(Box(0, 0, lead - 2.0, label_mm + high), {WHITE: 1.0}, coverage=1.0),
            Mark(Text(2, label_mm + high / 2, 4.5, f"{lpi} lpi", "lm"), label(inks)),
        ]
        for place, tone in enumerate(TONES):
            left = lead + place * step
            marks.append(Mark(Text(left + step / 2, label_mm / 2, 3.0, f"{tone} %"), label(inks)))
            marks.append(Mark(Box(left, label_mm, step, high), _FULL, coverage=tone / 100))
        blocks.append(Block(f"{lpi} lpi", (width, label_mm + high), tuple(marks), lpi=float(lpi), garment=_DARK_GARMENT))
    to_do = (
        "Powder, cure and press as orders, on the cloth you print most. Wash a second one as your customers do.",
        "In each row find the lightest tone whose dots all hold, and the darkest whose holes all stay open.",
        "The finest ruling that keeps the tones you need is the rule's halftone.coverage.lpi.",
    )
    return Chart(Kind.SCREENS, f"Screens of film coverage · {printer}", tuple(blocks), to_do)


def _plate(inks: Sequence[str], words: str, width: float) -> Iterator[Mark]:
    """A white plate with words on it, along the upper edge."""
    yield Mark(Box(0, 0, width, _PLATE_MM), {WHITE: 1.0}, coverage=1.0)
    yield Mark(Text(2, _PLATE_MM / 2, 3.8, words, "lm"), label(inks))


def _figures(inks: Sequence[str], *, solid: bool, width: float, height: float) -> Iterator[Mark]:
    """Three rows of dots, and lines both ways, by size; either film on nothing, or nothing in solid film."""
    top = _PLATE_MM + _SCALE_MM
    yield Mark(Box(0, _PLATE_MM, width, _SCALE_MM), {WHITE: 1.0}, coverage=1.0)
    if solid:
        yield Mark(Box(0, top, width, height - top), _FULL, coverage=1.0)
    filled, coverage = ({}, 0.0) if solid else (_FULL, 1.0)
    for place, size in enumerate(SIZES_MM):
        x = _LEAD_MM + (place + 0.5) * _PITCH_MM
        yield Mark(Text(x, top - _SCALE_MM / 2, 2.8, f"{size:g}"), label(inks))
        for row in range(3):
            yield Mark(Disc(x, top + 3.0 + 3.0 * row, size), filled, coverage)
        yield Mark(Box(x - size / 2, top + 12.0, size, 10.0), filled, coverage)
        yield Mark(Box(x - _PITCH_MM / 2 + 0.75, top + 26.0 - size / 2, _PITCH_MM - 1.5, size), filled, coverage)


def _choked(dark: dict[str, float]) -> Iterator[Mark]:
    """A square, a ring, lines and lettering, dark and bright."""
    for left, inks in ((2.0, {**dark, WHITE: 1.0}), (24.0, _FULL)):
        yield Mark(Box(left, 8.0, 8.0, 8.0), inks, coverage=1.0)
        yield Mark(Disc(left + 14.0, 12.0, 8.0), inks, coverage=1.0)
        yield Mark(Disc(left + 14.0, 12.0, 4.0), coverage=0.0)
        for place, line in enumerate((0.3, 0.5, 0.8, 1.2)):
            yield Mark(Box(left, 18.0 + 2.0 * place, 18.0, line), inks, coverage=1.0)
        yield Mark(Text(left, 29.5, 6.0, "Rag 8", "lm"), inks, coverage=1.0)
