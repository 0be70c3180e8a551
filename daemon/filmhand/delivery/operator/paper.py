"""The operator's sheet as a PDF of A4 pages, set by typst: one page where it fits.

typst brings a serif of its own and lays out any text; a sign that no font has becomes a visible box. As a browser does, it takes
the machine's own sans-serif where there is one.
"""

import json
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from importlib.resources import files
from io import BytesIO
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final

import pikepdf
import typst
from PIL import Image

from filmhand import units
from filmhand.delivery.operator.facts import SheetFacts
from filmhand.delivery.operator.numbers import Numbered
from filmhand.delivery.operator.strips import Room, Strip, Strips, cut_into_strips

PAPER: Final = "operator.pdf"

FONTS: Final = ("Noto Sans", "Segoe UI", "Helvetica Neue", "Liberation Sans", "Arial", "DejaVu Sans", "Libertinus Serif")
"""Sans-serifs that most systems have (common practice, no source); the last comes with typst."""

_TEMPLATE: Final = "templates/operator.typ"
_BESIDE: Final = tuple(Room(122, height, 3, 5) for height in (128, 108, 88))
"""Places for the picture on the first page, mm: the largest with which all fits on that page is taken."""
_ALONE: Final = tuple(Room(186, 240, 4, 5, pages) for pages in range(1, 7))
"""Pages of its own."""

_SMALLEST_PT, _LARGEST_PT = 4.5, 8.5
_PPI: Final = 300


@dataclass(frozen=True)
class Picture:
    """The sheet's preview, and where on paper it goes."""

    pixels: Image.Image
    room: Room


def paper_of(
    told: Mapping[str, Any], facts: SheetFacts, preview: Image.Image, *, at: datetime, machine_fonts: bool = True
) -> bytes:
    """The PDF; for the same input on the same machine the same bytes. `told`: what write.py tells both templates.

    `machine_fonts`: whether any font but typst's own is used.
    """
    fonts = typst.Fonts(include_system_fonts=machine_fonts)
    told = {**told, "fonts": [name for name in FONTS if name in fonts.families()]}
    pixels = preview.convert("RGB")
    rooms = [room for room in _BESIDE if _is_readable(facts, room)] or [_alone(facts)]
    papers = (_set(told, facts, Picture(pixels, room), fonts=fonts, at=at) for room in rooms)
    first = next(papers)
    return first if _pages(first) == 1 else next((paper for paper in papers if _pages(paper) == 1), first)


def _alone(facts: SheetFacts) -> Room:
    """As few pages as show the numbers readable, or the most there are."""
    return next((room for room in _ALONE if _is_readable(facts, room)), _ALONE[-1])


def _is_readable(facts: SheetFacts, room: Room) -> bool:
    """Whether there is room for the number of nine copies in ten: about a millimetre a sign, in the smallest letters."""
    sides = sorted(min(one.box.width, one.box.height) for one in facts.numbered)
    return sides[len(sides) // 10] * _strips(facts, room).scale >= 1.6 + _signs(facts)


def _signs(facts: SheetFacts) -> int:
    """Of the longest number."""
    return max(len(one.text) for one in facts.numbered)


def _strips(facts: SheetFacts, room: Room) -> Strips:
    return cut_into_strips(facts.width_mm, facts.length_mm, [one.box for one in facts.numbered], room=room)


def _set(told: Mapping[str, Any], facts: SheetFacts, picture: Picture, *, fonts: typst.Fonts, at: datetime) -> bytes:
    """The typeset pages. Text goes in as data, never as typst's own language; typst sees no folder but one of its pictures."""
    cut = _strips(facts, picture.room)
    with TemporaryDirectory() as folder:
        shown = []
        for place, strip in enumerate(cut.strips):
            name = f"strip-{place}.jpg"
            size = facts.width_mm * cut.scale, (strip.bottom - strip.top) * cut.scale
            (Path(folder) / name).write_bytes(_jpeg(picture.pixels, strip, length_mm=facts.length_mm, size=size))
            numbers = [_on_strip(one, strip, cut.scale, signs=_signs(facts)) for one in strip.holding(facts.numbered)]
            span = f"{strip.top / 1000:.2f} – {strip.bottom / 1000:.2f}\xa0m"
            shown.append({"file": name, "width": size[0], "height": size[1], "span": span, "numbers": numbers})
        pages = [shown[first : first + cut.beside] for first in range(0, len(shown), cut.beside)]
        data = json.dumps({**told, "pictures": pages, "is_alone": picture.room in _ALONE, "gap": picture.room.gap})
        template = (files("filmhand.delivery") / _TEMPLATE).read_bytes()
        compiler = typst.Compiler(template, root=folder, font_paths=fonts, sys_inputs={"sheet": data})
        pdf = compiler.compile(format="pdf", timestamp=int(at.timestamp()))
    assert isinstance(pdf, bytes)
    return pdf


def _on_strip(one: Numbered, strip: Strip, scale: float, *, signs: int) -> dict[str, Any]:
    """A number's place on its strip, mm, and its size in points, by the copy's; `signs`: of the longest number."""
    side = units.mm_to_px(min(one.box.width, one.box.height) * scale, units.POINTS_PER_INCH)
    points = min(max(side / (1.3 + 0.6 * signs), _SMALLEST_PT), _LARGEST_PT)
    return {"text": one.text, "x": one.spot[0] * scale, "y": (one.spot[1] - strip.top) * scale, "points": points}


def _jpeg(pixels: Image.Image, strip: Strip, *, length_mm: float, size: tuple[float, float]) -> bytes:
    """A strip of the preview, as fine as paper shows."""
    top, bottom = (round(edge / length_mm * pixels.height) for edge in strip)
    cropped = pixels.crop((0, top, pixels.width, max(bottom, top + 1)))
    wanted = tuple(max(1, round(units.mm_to_px(side, _PPI))) for side in size)
    if wanted[0] < cropped.width:
        cropped = cropped.resize((wanted[0], wanted[1]), Image.Resampling.LANCZOS)
    file = BytesIO()
    cropped.save(file, "JPEG", quality=88)
    return file.getvalue()


def _pages(pdf: bytes) -> int:
    with pikepdf.open(BytesIO(pdf)) as opened:
        return len(opened.pages)
