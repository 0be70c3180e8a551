"""Targets that are looked at on the film, before any colour is measured: nozzles and registration."""

from collections.abc import Iterator, Sequence
from typing import Final

from filmhand import units
from filmhand.colour.chart.kinds import Kind
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
            choke_mm=0.0,
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
    title = f"Registration of {' '.join(others)} against {base} · {printer}"
    blocks = tuple(_pair(base, ink, resolution=resolution) for ink in others)
    to_do = (
        f"Look at the film with a magnifier. The longer line is the middle: there {base} and the other ink must form one line.",
        "If another pair meets better, the ink is off by that many lines. Correct it in the print controller; print again.",
        "Every ink is there twice: what both show is the ink's, what they show differently is the film's path.",
    )
    return Chart(Kind.REGISTRATION, title, blocks + blocks, to_do)


def _pair(base: str, ink: str, *, resolution: tuple[int, int]) -> Block:
    """Both verniers of an ink, lettered in the base ink."""
    width, height, top = 46.0, 38.0, 12.0
    reads = " / ".join(f"{_whole(_READ_MM, dpi):.3f}" for dpi in resolution)
    marks = [
        Mark(Box(0, 0, width, height), coverage=1.0),
        Mark(Text(2, 3, 3.4, f"{ink} against {base}", "lm"), {base: 1.0}),
        Mark(Text(2, 7, 2.6, f"one line = {reads} mm", "lm"), {base: 1.0}),
        *_vernier(base, ink, at=(5.0, top + 6.0), dpi=resolution[0], upright=True),
        *_vernier(base, ink, at=(34.0, top), dpi=resolution[1], upright=False),
    ]
    return Block(f"registration {ink}", (width, height), tuple(marks), fine=True, choke_mm=0.0, garment=_GREY_GARMENT)


def _whole(length_mm: float, dpi: int) -> float:
    """The nearest length of whole dots, at least one, so that all lines of a vernier are alike."""
    return units.px_to_mm(max(1, round(units.mm_to_px(length_mm, dpi))), dpi)


def _vernier(base: str, ink: str, *, at: tuple[float, float], dpi: int, upright: bool) -> Iterator[Mark]:
    """Lines of the base ink at an even pitch, and beyond their ends the ink's, each a reading further apart."""
    left, top = at
    pitch, read, thick = (_whole(length, dpi) for length in (_PITCH_MM, _READ_MM, _LINE_MM))
    for number in range(-_LINES, _LINES + 1):
        longer = _LONG_MM + (1.0 if number == 0 else 0.0)
        for one, place, side in (
            (base, (_LINES + number) * pitch, _LONG_MM - longer),
            (ink, _LINES * pitch + number * (pitch + read), _LONG_MM),
        ):
            box = (left + place, top + side, thick, longer) if upright else (left + side, top + place, longer, thick)
            yield Mark(Box(*box), {one: 1.0})
