"""The operator's sheet as a page of HTML: for a telephone, a screen at the desk, and for printing; no script, no network."""

from collections.abc import Iterator, Mapping
from typing import Any, Final

from jinja2 import Environment, PackageLoader, StrictUndefined

from filmhand.delivery.operator.facts import SheetFacts
from filmhand.delivery.operator.strips import Room, Strips, cut_into_strips

PAGE: Final = "operator.html"

_DESK: Final = tuple(Room(240, height, 4, 6) for height in (170, 340, 680, 1360))
"""What a screen at the desk gives the picture, in proportion: the first on which numbers have room."""
_EM: Final = 240 / 78
"""Of the letters on that screen."""


def page_of(told: Mapping[str, Any], facts: SheetFacts) -> str:
    """The page's text. `told`: what write.py tells both templates. It shows the preview.png that lies beside it."""
    templates = Environment(
        loader=PackageLoader("filmhand.delivery"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    return templates.get_template(PAGE).render(told, strips=list(_shown(facts, _strips(facts))))


def _strips(facts: SheetFacts) -> Strips:
    boxes = [one.box for one in facts.numbered]
    cuts = [cut_into_strips(facts.width_mm, facts.length_mm, boxes, room=room) for room in _DESK]
    sides = sorted(min(box.width, box.height) for box in boxes)
    wanted = _EM * (1 + 0.4 * max(len(one.text) for one in facts.numbered))
    return next((cut for cut in cuts if sides[len(sides) // 10] * cut.scale >= wanted), cuts[-1])


def _shown(facts: SheetFacts, cut: Strips) -> Iterator[dict[str, Any]]:
    """Strips with their numbers; all places in percent of a strip, so that they hold at any size."""
    for strip in cut.strips:
        top, bottom = strip
        length = bottom - top
        numbers = [
            {"text": one.text, "x": 100 * one.spot[0] / facts.width_mm, "y": 100 * (one.spot[1] - top) / length}
            for one in strip.holding(facts.numbered)
        ]
        yield {
            "top": top / 1000,
            "bottom": bottom / 1000,
            "ratio": facts.width_mm / length,
            "height": 100 * facts.length_mm / length,
            "shift": 100 * top / length,
            "numbers": numbers,
        }
