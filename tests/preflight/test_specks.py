"""Stray specks: counted and marked where they stand alone, at any resolution; dots that are meant are left in peace."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from PIL import ImageFont

from filmhand.artwork.model import Artwork, Kind, PrintedSize
from filmhand.preflight import specks, stray
from filmhand.preflight.finding import Box, Finding
from filmhand.rules import Printer, Rule

Draw = Callable[..., Artwork]
RuleOf = Callable[..., Rule]
Paint = Callable[[Any, float], None]

SIZE = PrintedSize(60, 60)


def _dots(*dots: tuple[float, float, float], motif: bool = True) -> Paint:
    """Discs (x, y, diameter in mm) above a motif, a disc of 30 mm."""

    def paint(draw: Any, scale: float) -> None:
        for x, y, across in ((30, 40, 30), *dots) if motif else dots:
            sides = (x - across / 2, y - across / 2, x + across / 2, y + across / 2)
            draw.ellipse([side * scale for side in sides], fill=255)

    return paint


def _found(artwork: Artwork, rule: Rule, printer: Printer) -> Finding | None:
    findings = specks.check(artwork, SIZE, rule=rule, printer=printer)
    return findings[0] if findings else None


def _overlap(first: Box, second: Box) -> float:
    """Intersection over union."""
    across = min(first.left + first.width, second.left + second.width) - max(first.left, second.left)
    down = min(first.top + first.height, second.top + second.height) - max(first.top, second.top)
    shared = max(0.0, across) * max(0.0, down)
    return shared / (first.width * first.height + second.width * second.height - shared)


@pytest.mark.parametrize("ppi", [150, 300, 600])
def test_specks_are_counted_and_marked_one_by_one(rule_of: RuleOf, printer: Printer, drawn: Draw, ppi: float) -> None:
    """Five discs of 0.3 mm, strewn: five, each box on its speck."""
    places = [(4.1, 3.3), (17.6, 9.2), (33.3, 5.7), (44.9, 12.4), (57.0, 2.2)]
    found = _found(drawn(60, 60, ppi, _dots(*((x, y, 0.3) for x, y in places))), rule_of(), printer)
    assert found is not None
    assert (found.value, found.limit, found.unit) == (5, 0, "specks")
    pixel = 25.4 / ppi
    for x, y in places:
        # What is drawn covers every pixel that it touches.
        left, top = (np.floor((at - 0.15) / pixel) * pixel for at in (x, y))
        right, bottom = (np.ceil((at + 0.15) / pixel) * pixel for at in (x, y))
        true = Box(left / 60, top / 60, (right - left) / 60, (bottom - top) / 60)
        assert max(_overlap(true, box) for box in found.where) >= 0.5


def test_one_faint_pixel_is_seen(rule_of: RuleOf, printer: Printer, drawn: Draw) -> None:
    """Alpha 8 is the least that is seen (trim.py); 7 is nothing."""
    for alpha, count in ((8, 1), (7, 0)):
        artwork = drawn(60, 60, 300, _dots())
        artwork.pixels[20, 30, 3] = alpha
        found = _found(artwork, rule_of(), printer)
        assert (0 if found is None else found.value) == count


def test_size_is_that_of_the_print(rule_of: RuleOf, printer: Printer, drawn: Draw) -> None:
    """A dot of 0.6 mm holds, and at half the size it does not."""
    artwork = drawn(60, 60, 300, _dots((10, 10, 0.6)))
    assert _found(artwork, rule_of(), printer) is None
    (half,) = specks.check(artwork, PrintedSize(30, 30), rule=rule_of(), printer=printer)
    assert half.value == 1
    assert "0.4 mm" in str(half.message)


def test_the_limit_and_the_size_are_the_rules(rule_of: RuleOf, printer: Printer, drawn: Draw) -> None:
    """Three specks where three are allowed; dots of 0.6 mm where 1 mm is a speck."""
    three = drawn(60, 60, 300, _dots((5, 5, 0.3), (25, 9, 0.3), (50, 5, 0.3)))
    assert _found(three, rule_of(preflight={"specks": {"warn": 3}}), printer) is None
    assert _found(three, rule_of(preflight={"specks": {"warn": 2}}), printer) is not None
    larger = drawn(60, 60, 300, _dots((5, 5, 0.6)))
    assert _found(larger, rule_of(preflight={"speck": "1 mm"}), printer) is not None


def test_dots_beside_the_motif_belong_to_it(rule_of: RuleOf, printer: Printer, drawn: Draw) -> None:
    """Half a millimetre above a disc's top, at 25 mm, and three in a row from there; two millimetres away, one is alone."""
    assert _found(drawn(60, 60, 300, _dots((30, 24.3, 0.3))), rule_of(), printer) is None
    assert _found(drawn(60, 60, 300, _dots((30, 24.3, 0.3), (30, 23.3, 0.3), (30, 22.3, 0.3))), rule_of(), printer) is None
    assert _found(drawn(60, 60, 300, _dots((30, 22.8, 0.3))), rule_of(), printer) is not None


@pytest.mark.parametrize("points", [6, 8, 12])
def test_stops_and_dots_of_lettering_are_none(rule_of: RuleOf, printer: Printer, drawn: Draw, points: float) -> None:
    """Pillow's own typeface, in sizes whose dots are 0.25 mm and more; 72 points to an inch (ISO 32000-2)."""

    def paint(draw: Any, scale: float) -> None:
        font = ImageFont.load_default(size=points * 25.4 / 72 * scale)
        draw.text((3 * scale, 10 * scale), "Hi: it is... j, ä ü!\n“Ohio” e.g. v.i.p.;\n1.5 i·j ¿Sí?", font=font, fill=255)

    assert _found(drawn(60, 60, 300, paint), rule_of(), printer) is None


def test_a_pattern_of_dots_is_meant(rule_of: RuleOf, printer: Printer, drawn: Draw) -> None:
    """A screen of 20 × 8 dots, each row smaller than the last, and a dotted line; as many dots strewn are specks."""
    screen = [(5 + 0.9 * k, 4 + 0.9 * row, 0.39 - 0.03 * row) for k in range(20) for row in range(8)]
    assert _found(drawn(60, 60, 600, _dots(*screen)), rule_of(), printer) is None
    line = [(5 + 1.1 * k, 8, 0.3) for k in range(40)]
    assert _found(drawn(60, 60, 300, _dots(*line)), rule_of(), printer) is None
    rng = np.random.default_rng(3)
    strewn = [(x, y, 0.3) for x, y in rng.uniform((2, 2), (58, 20), (40, 2))]
    found = _found(drawn(60, 60, 300, _dots(*strewn)), rule_of(), printer)
    assert found is not None
    assert found.value is not None
    assert 34 <= found.value <= 40  # some touch
    assert 1 <= len(found.where) <= 12


def test_tiles_change_nothing(rule_of: RuleOf, printer: Printer, drawn: Draw, monkeypatch: pytest.MonkeyPatch) -> None:
    """Looked at in small pieces, the same specks are found in the same places."""
    rng = np.random.default_rng(8)
    artwork = drawn(60, 60, 300, _dots(*((x, y, 0.3) for x, y in rng.uniform((2, 2), (58, 58), (60, 2)))))
    whole = stray.stray_specks(artwork, SIZE, limit_mm=0.4)
    monkeypatch.setattr(stray, "_TILE_PX", 97)
    pieces = stray.stray_specks(artwork, SIZE, limit_mm=0.4)
    assert whole.count == pieces.count > 20
    assert sorted(map(tuple, whole.sides.tolist())) == sorted(map(tuple, pieces.sides.tolist()))
    assert set(zip(whole.rows, whole.columns, strict=True)) == set(zip(pieces.rows, pieces.columns, strict=True))


def test_a_filled_rectangle_and_an_empty_picture_have_none(rule_of: RuleOf, printer: Printer) -> None:
    """Nothing stands alone in either."""
    for alpha in (0, 255):
        pixels = np.full((300, 300, 4), alpha, np.uint8)
        assert _found(Artwork(pixels, None, None, Kind.PNG), rule_of(), printer) is None
