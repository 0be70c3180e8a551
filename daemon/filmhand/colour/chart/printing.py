"""Targets that are looked at on the film, before any colour is measured: nozzles and registration."""

from collections.abc import Iterator, Sequence
from typing import Final

from filmhand import units
from filmhand.colour.chart.kinds import Kind
from filmhand.colour.chart.layout import label
from filmhand.colour.chart.model import Block, Box, Chart, Mark, Stairs, Text
from filmhand.rules import Ink

_STEPS: Final = 16
_STAIRS_MM: Final = (40.0, 60.0)
"""A stair of dashes, width and height: higher than the swath of most heads (common practice, no source)."""
_LINES: Final = 10
"""Lines of a vernier on either side of the middle."""
_PITCH_MM, _READ_MM, _LINE_MM, _LONG_MM = 1.0, 0.035, 0.1, 4.0
"""Of a vernier: from line to line; what one line further tells; width and length of a line."""
_GREY_GARMENT: Final = "#7a7f86"


def nozzle_check(inks: Sequence[str], *, printer: str, resolution: tuple[int, int]) -> Chart:
    """Every ink, white too: one short dash, a dot thin, in each row of dots. A missing nozzle leaves a gap in the stairs."""
    width, height = _STAIRS_MM
    every = units.px_to_mm(_STEPS, resolution[1])
    title = f"Nozzles · a dash for every row of dots, {_STEPS} steps, {every:.2f} mm apart · {printer}"
    blocks = tuple(
        Block(
            f"nozzles {ink}",
            (width, height + 6.0),
            (
                Mark(Box(0, 0, width, height + 6.0), coverage=1.0),
                Mark(Text(1, 3, 4.0, f"{ink}  {Ink(ink).name.lower()}", "lm"), {ink: 1.0}),
                Mark(Stairs(Box(0, 6.0, width, height), _STEPS), {ink: 1.0}),
            ),
            fine=True,
            garment=_GREY_GARMENT,
        )
        for ink in inks
    )
    to_do = (
        "Print without powder. Hold the film against a dark ground for white and yellow, against a light one for the rest.",
        "Each ink must show unbroken stairs. A dash that is missing, bent or doubled is a nozzle that is blocked or strays.",
        "Clean the heads as their maker says and print this again before any other chart: no chart is better than its nozzles.",
    )
    return Chart(Kind.NOZZLES, title, blocks, to_do)


def registration(inks: Sequence[str], *, printer: str, resolution: tuple[int, int]) -> Chart:
    """Two verniers for each ink against black (else cyan): lines that meet tell how far the inks lie apart, across and along."""
    base = str(Ink.BLACK if Ink.BLACK in inks else Ink.CYAN)
    others = [ink for ink in inks if ink != base]
    reads = [_reading(dpi) for dpi in resolution]
    long = 2 * _LINES * _PITCH_MM + 8.0
    pitch_y = 2 * _LONG_MM + 6.0
    width, height = long + len(others) * pitch_y + 14.0, max(len(others) * pitch_y, long) + 8.0
    dark = label(inks)
    marks = [Mark(Box(0, 0, width, height), coverage=1.0)]
    marks.append(
        Mark(Text(2, 3, 2.6, f"inks against {base}: one line = {reads[0]:.3f} mm across, {reads[1]:.3f} along", "lm"), dark)
    )
    for place, ink in enumerate(others):
        start = 7.0 + place * pitch_y
        marks += _vernier(base, ink, at=(8.0, start), read=reads[0], upright=True)
        marks.append(Mark(Text(1, start + _LONG_MM, 3.6, ink, "lm"), dark))
        left = long + 12.0 + place * pitch_y
        marks += _vernier(base, ink, at=(left, 13.0), read=reads[1], upright=False)
        marks.append(Mark(Text(left + _LONG_MM, 9.5, 3.6, ink), dark))
    title = f"Registration of {' '.join(others)} against {base} · {printer}"
    block = Block("registration", (width, height), tuple(marks), fine=True, garment=_GREY_GARMENT)
    to_do = (
        f"Look at the film with a magnifier. The longer line is the middle: there {base} and the other ink must form one line.",
        "If another pair meets better, the ink is off by that many lines. Correct it in the print controller; print again.",
        "Read it at the left and the right of the film, and at the start and the end of a long sheet.",
    )
    return Chart(Kind.REGISTRATION, title, (block, block), to_do)


def _reading(dpi: int) -> float:
    """The step of a vernier in mm: whole dots, about what can be told apart."""
    return units.px_to_mm(max(1, round(units.mm_to_px(_READ_MM, dpi))), dpi)


def _vernier(base: str, ink: str, *, at: tuple[float, float], read: float, upright: bool) -> Iterator[Mark]:
    """Lines of the base ink at an even pitch, and beyond their ends the ink's, each a reading further apart."""
    left, top = at
    for number in range(-_LINES, _LINES + 1):
        longer = _LONG_MM + (1.0 if number == 0 else 0.0)
        for one, place, side in (
            (base, _LINES * _PITCH_MM + number * _PITCH_MM, _LONG_MM - longer),
            (ink, _LINES * _PITCH_MM + number * (_PITCH_MM + read), _LONG_MM),
        ):
            box = (left + place, top + side, _LINE_MM, longer) if upright else (left + side, top + place, longer, _LINE_MM)
            yield Mark(Box(*box), {one: 1.0})
