"""Thin lines and gaps: measured widths against drawn ones; what is not thin is not called so."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from PIL import ImageFont

from bench.thin_lines import ANGLES, artwork_of, stroke
from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.preflight import thin_gap, thin_line
from filmhand.preflight.finding import Severity
from filmhand.preflight.grid import Part
from filmhand.preflight.thickness import narrow_parts
from filmhand.rules import Printer, Rule

Draw = Callable[..., Artwork]
RuleOf = Callable[..., Rule]


def _stroke(
    width_mm: float, angle: float, length_mm: float = 8.0, at: tuple[float, float] = (6.0, 6.0)
) -> Callable[[Any, float], None]:
    """A straight stroke through a point, its ends square."""
    along = np.array([np.cos(np.radians(angle)), np.sin(np.radians(angle))])
    across = np.array([-along[1], along[0]])
    corners = [at + s * along * length_mm / 2 + t * across * width_mm / 2 for s, t in ((1, 1), (-1, 1), (-1, -1), (1, -1))]
    return lambda draw, scale: draw.polygon([tuple(corner * scale) for corner in corners], fill=255)


def _inverted(artwork: Artwork) -> Artwork:
    pixels = artwork.pixels.copy()
    pixels[..., 3] = 255 - pixels[..., 3]
    return Artwork(pixels, None, artwork.ppi, artwork.kind)


@pytest.mark.parametrize("ppi", [200, 300, 600, 720])
@pytest.mark.parametrize("width_mm", [0.1, 0.15, 0.3, 0.55, 0.8])
def test_strokes_and_gaps_measure_as_drawn(width_mm: float, ppi: float) -> None:
    """0.1 to 0.8 mm within 0.04 mm, as film and as gap, from coarse and fine files; the bench prints more of them.

    Drawn independently, with each pixel's exact coverage, at eight angles in turn over different places on the pixel grid.
    """
    for place, angle in enumerate(ANGLES):
        at_mm = 6 + place / 8 * 25.4 / ppi
        coverage = stroke(width_mm, angle, ppi=ppi, at_mm=(at_mm, at_mm))
        part, picture = (Part.FILM, coverage) if place % 2 else (Part.GAP, 1 - coverage)
        found = narrow_parts(artwork_of(picture), PrintedSize(12, 12), part=part, limit_mm=1.0).narrowest_mm
        assert found == pytest.approx(width_mm, abs=0.04), (angle, part)


@pytest.mark.parametrize(("width_mm", "ppi"), [(0.03, 300), (0.04, 300), (0.06, 200), (0.1, 100)])
def test_hairlines_of_no_solid_pixel_are_seen(width_mm: float, ppi: float) -> None:
    """0.35 to 0.5 pixels wide: where two rows share it, no pixel of a hairline is even a third covered."""
    for angle in ANGLES:
        for shift in (0.0, 0.31, 0.5):
            at_mm = 6 + shift * 25.4 / ppi
            coverage = stroke(width_mm, angle, ppi=ppi, at_mm=(at_mm, at_mm))
            found = narrow_parts(artwork_of(coverage), PrintedSize(12, 12), part=Part.FILM, limit_mm=0.4)
            assert found.narrowest_mm == pytest.approx(width_mm, abs=0.02), (angle, shift)


@pytest.mark.parametrize("ppi", [300, 720])
@pytest.mark.parametrize("width_mm", [0.15, 0.3])
def test_boxes_lie_close_around(width_mm: float, ppi: float) -> None:
    """The one box of a stroke or slit overlaps the true one with an intersection over union of at least one half."""
    for angle in ANGLES:
        coverage = stroke(width_mm, angle, ppi=ppi, at_mm=(6.05, 6.02))
        cos, sin = abs(np.cos(np.radians(angle))), abs(np.sin(np.radians(angle)))
        width, height = 8 * cos + width_mm * sin, 8 * sin + width_mm * cos
        for part, picture in ((Part.FILM, coverage), (Part.GAP, 1 - coverage)):
            found = narrow_parts(artwork_of(picture), PrintedSize(12, 12), part=part, limit_mm=0.4)
            (box,) = found.where
            across = min(6.05 + width / 2, 12 * (box.left + box.width)) - max(6.05 - width / 2, 12 * box.left)
            down = min(6.02 + height / 2, 12 * (box.top + box.height)) - max(6.02 - height / 2, 12 * box.top)
            union = width * height + 144 * box.width * box.height - across * down
            assert across * down / union >= 0.5, (angle, part)


def test_the_printed_size_counts(drawn: Draw) -> None:
    """The same file printed twice as large has strokes twice as wide."""
    artwork = drawn(12, 12, 300, _stroke(0.3, 20))
    for times in (1, 2):
        size = PrintedSize(12 * times, 12 * times)
        assert narrow_parts(artwork, size, part=Part.FILM, limit_mm=1.0).narrowest_mm == pytest.approx(0.3 * times, abs=0.05)


def _shapes(draw: Any, scale: float) -> None:
    """Sturdy things: a square, a triangle, a star, a disc, a ring 3 mm wide, a bar of exactly 0.6 mm."""
    draw.rectangle((2 * scale, 2 * scale, 12 * scale, 12 * scale), fill=255)
    draw.polygon([(16 * scale, 12 * scale), (21 * scale, 2 * scale), (26 * scale, 12 * scale)], fill=255)
    turns = np.radians(np.arange(10) * 36)
    star = [((35 + r * np.sin(t)) * scale, (8 - r * np.cos(t)) * scale) for t, r in zip(turns, [6, 3] * 5, strict=True)]
    draw.polygon(star, fill=255)
    draw.ellipse((2 * scale, 16 * scale, 12 * scale, 26 * scale), fill=255)
    draw.ellipse((16 * scale, 16 * scale, 26 * scale, 26 * scale), fill=255)
    draw.ellipse((19 * scale, 19 * scale, 23 * scale, 23 * scale), fill=0)
    draw.rectangle((30 * scale, 20 * scale, 40 * scale, 20.6 * scale), fill=255)


def test_corners_and_sturdy_shapes_are_not_thin(drawn: Draw) -> None:
    """No opening residue at corners, tips of 53 and 75 degrees, round edges; concave corners are no gaps either."""
    artwork = drawn(44, 28, 300, _shapes)
    for part in Part:
        found = narrow_parts(artwork, PrintedSize(44, 28), part=part, limit_mm=0.5)
        assert (found.share, found.narrowest_mm, found.where) == (0, None, ())


def _star(points: int, inner_mm: float) -> Callable[[Any, float], None]:
    """A star of 12 mm around (15, 15)."""
    turns = np.arange(2 * points) * np.pi / points
    corners = [(15 + r * np.sin(turn), 15 - r * np.cos(turn)) for turn, r in zip(turns, (12, inner_mm) * points, strict=True)]
    return lambda draw, scale: draw.polygon([(x * scale, y * scale) for x, y in corners], fill=255)


def _discs(radius_mm: float, overlap_mm: float) -> Callable[[Any, float], None]:
    """Two discs that touch, or overlap, in the middle of 40 mm; and a bar that is a tangent to both."""

    def paint(draw: Any, scale: float) -> None:
        for x in (20 - radius_mm + overlap_mm / 2, 20 + radius_mm - overlap_mm / 2):
            draw.ellipse([side * scale for side in (x - radius_mm, 20 - radius_mm, x + radius_mm, 20 + radius_mm)], fill=255)
        draw.rectangle([side * scale for side in (1, 19.6 + radius_mm, 39, 20.4 + radius_mm)], fill=255)

    return paint


def _crossing(angle: float) -> Callable[[Any, float], None]:
    """Two strokes of 0.8 mm that cross."""
    first, second = _stroke(0.8, 12, 24, (15, 15)), _stroke(0.8, 12 + angle, 24, (15, 15))
    return lambda draw, scale: (first(draw, scale), second(draw, scale))


def _lettering(height_mm: float) -> Callable[[Any, float], None]:
    """Letters of a sans font, whose strokes are a tenth of their height: Pillow's own."""
    return lambda draw, scale: draw.text((scale, scale), "RaMkgS3", font=ImageFont.load_default(size=height_mm * scale), fill=255)


_FAULTLESS = {
    **{f"star of {n}": _star(n, inner) for n, inner in ((4, 3), (5, 4.58), (6, 7), (8, 7), (12, 8), (16, 9.5))},
    **{f"discs of {r}, {o}": _discs(r, o) for r in (2, 5, 9) for o in (0, 0.3)},
    **{f"crossing at {angle}": _crossing(angle) for angle in (15, 30, 60, 90)},
    **{f"lettering of {height} mm": _lettering(height) for height in (9, 14)},
    **{
        f"corner of {radius} mm": lambda draw, scale, radius=radius: draw.rounded_rectangle(
            (3 * scale, 3 * scale, 27 * scale, 20 * scale), radius * scale, fill=255
        )
        for radius in (0.1, 0.3, 1.0, 3.0)
    },
    "dots of 0.7 mm": lambda draw, scale: [
        draw.ellipse([side * scale for side in (x, y, x + 0.7, y + 0.7)], fill=255)
        for x in np.arange(2, 38, 1.3)
        for y in np.arange(2, 38, 1.3)
    ],
}


@pytest.mark.parametrize("shape", _FAULTLESS)
@pytest.mark.parametrize("ppi", [150, 300])
def test_ends_of_what_is_wide_are_neither_lines_nor_gaps(drawn: Draw, shape: str, ppi: float) -> None:
    """Tips of stars, serifs, corners, crossings, the cusps outside discs that touch, tangents: none under usual limits."""
    artwork = drawn(60 if "lettering" in shape else 40, 40, ppi, _FAULTLESS[shape])
    size = PrintedSize(60 if "lettering" in shape else 40, 40)
    for part, limit_mm in ((Part.FILM, 0.4), (Part.GAP, 0.3)):
        assert narrow_parts(artwork, size, part=part, limit_mm=limit_mm).narrowest_mm is None


def test_a_line_that_tapers_counts_where_it_is_narrow(drawn: Draw) -> None:
    """A spike that tapers over 15 mm from 1 mm to nothing is narrow over 6 mm; its narrowest millimetre reaches 0.07 mm."""

    def paint(draw: Any, scale: float) -> None:
        draw.rectangle((2 * scale, 2 * scale, 8 * scale, 12 * scale), fill=255)
        draw.polygon([(8 * scale, 6.5 * scale), (8 * scale, 7.5 * scale), (23 * scale, 7 * scale)], fill=255)

    found = narrow_parts(drawn(26, 14, 600, paint), PrintedSize(26, 14), part=Part.FILM, limit_mm=0.4)
    assert found.narrowest_mm == pytest.approx(1 / 15, abs=0.04)
    (box,) = found.where
    assert 23 - 9 < box.left * 26 < 23 - 6 + 0.5  # marked from where it is nearly as wide as the limit
    assert (box.left + box.width) * 26 == pytest.approx(23, abs=1)


def test_discs_that_nearly_touch_leave_a_gap(drawn: Draw) -> None:
    """Between two discs of 5 mm, 0.1 mm apart: bare over 2 mm, narrow, and open at both ends."""

    def paint(draw: Any, scale: float) -> None:
        for x in (9.95, 20.05):
            draw.ellipse([side * scale for side in (x - 5, 10, x + 5, 20)], fill=255)

    found = narrow_parts(drawn(30, 30, 600, paint), PrintedSize(30, 30), part=Part.GAP, limit_mm=0.3)
    assert found.narrowest_mm == pytest.approx(0.13, abs=0.04)
    (box,) = found.where
    assert 30 * (box.left + box.width / 2) == pytest.approx(15, abs=0.3)


def test_share_and_place(drawn: Draw) -> None:
    """A hairline of 0.25 × 10 mm beside a square of 10 × 10 mm: 2.4 % of the film, in the one place where it lies."""

    def paint(draw: Any, scale: float) -> None:
        draw.rectangle((2 * scale, 2 * scale, 12 * scale - 1, 12 * scale - 1), fill=255)
        draw.rectangle((25 * scale, 3 * scale, 25.25 * scale - 1, 13 * scale - 1), fill=255)

    found = narrow_parts(drawn(30, 15, 600, paint), PrintedSize(30, 15), part=Part.FILM, limit_mm=0.4)
    assert found.share == pytest.approx(2.5 / 102.5, rel=0.1)
    assert len(found.where) == 1
    box = found.where[0]
    assert box.left * 30 <= 25
    assert (box.left + box.width) * 30 >= 25.25
    assert box.top * 15 <= 3
    assert (box.top + box.height) * 15 >= 12.9
    assert box.width * 30 < 2


def test_a_hairline_that_hangs_on_a_shape_is_thin(drawn: Draw) -> None:
    """A serif of 0.2 mm between two stems, and a thin line round a shape at a distance smaller than the limit."""

    def paint(draw: Any, scale: float) -> None:
        draw.rectangle((2 * scale, 2 * scale, 5 * scale, 12 * scale), fill=255)
        draw.rectangle((9 * scale, 2 * scale, 12 * scale, 12 * scale), fill=255)
        draw.rectangle((5 * scale, 7 * scale, 9 * scale, 7.2 * scale - 1), fill=255)

    assert narrow_parts(
        drawn(14, 14, 600, paint), PrintedSize(14, 14), part=Part.FILM, limit_mm=0.4
    ).narrowest_mm == pytest.approx(0.2, abs=0.05)

    def outlined(draw: Any, scale: float) -> None:
        draw.ellipse((2 * scale, 2 * scale, 12 * scale, 12 * scale), fill=255)
        draw.ellipse((2.2 * scale, 2.2 * scale, 11.8 * scale, 11.8 * scale), fill=0)
        draw.ellipse((2.5 * scale, 2.5 * scale, 11.5 * scale, 11.5 * scale), fill=255)

    line = narrow_parts(drawn(14, 14, 600, outlined), PrintedSize(14, 14), part=Part.FILM, limit_mm=0.4)
    gap = narrow_parts(drawn(14, 14, 600, outlined), PrintedSize(14, 14), part=Part.GAP, limit_mm=0.4)
    assert line.narrowest_mm == pytest.approx(0.2, abs=0.05)
    assert gap.narrowest_mm == pytest.approx(0.3, abs=0.05)


def test_a_speck_does_not_decide_but_many_do(drawn: Draw) -> None:
    """One dot of 0.15 mm beside lines of 0.35 mm: the lines' width is reported. Two hundred such dots: theirs."""

    def paint(dots: int) -> Callable[[Any, float], None]:
        def draw_all(draw: Any, scale: float) -> None:
            _stroke(0.35, 10, 20, (12, 4))(draw, scale)
            for k in range(dots):
                x, y = 1 + (k % 40) * 0.6, 8 + (k // 40) * 0.8
                draw.ellipse((x * scale, y * scale, (x + 0.15) * scale, (y + 0.15) * scale), fill=255)

        return draw_all

    few, many = (
        narrow_parts(drawn(26, 14, 600, paint(dots)), PrintedSize(26, 14), part=Part.FILM, limit_mm=0.4).narrowest_mm
        for dots in (1, 200)
    )
    assert few == pytest.approx(0.35, abs=0.05)
    assert many is not None
    assert many < 0.2


def test_tiles_leave_no_seam(drawn: Draw) -> None:
    """A stroke as long as several tiles measures as one within a tile; nothing thin is invented where tiles meet."""
    long = drawn(150, 6, 200, _stroke(0.3, 1, 146, (75, 3)))
    found = narrow_parts(long, PrintedSize(150, 6), part=Part.FILM, limit_mm=0.4)
    assert found.share == pytest.approx(1, abs=0.01)
    assert found.narrowest_mm == pytest.approx(0.3, abs=0.05)
    along = drawn(60, 12, 300, _stroke(0.3, 90, 8, (51.2, 6)))  # where the first tile of 1024 at 20 a millimetre ends
    assert narrow_parts(along, PrintedSize(60, 12), part=Part.FILM, limit_mm=0.4).narrowest_mm == pytest.approx(0.3, abs=0.05)
    block = drawn(150, 60, 100, lambda draw, scale: draw.rectangle((scale, scale, 149 * scale, 59 * scale), fill=255))
    assert narrow_parts(block, PrintedSize(150, 60), part=Part.FILM, limit_mm=0.4).share == 0


def test_lettering_is_thin_when_small_and_not_when_large(drawn: Draw, rule_of: RuleOf, printer: Printer) -> None:
    """The same words, set 2 mm and 20 mm high, under the limits of a usual rule."""
    rule = rule_of(preflight={"thin_line": {"warn": "0.4 mm", "reject": "0.2 mm"}})

    def words(draw: Any, scale: float) -> None:
        draw.text((scale, scale), "Regatta 1887", font=ImageFont.load_default(size=4 * scale), fill=255)

    artwork = drawn(30, 7, 600, words)
    small = thin_line.check(artwork, PrintedSize(15, 3.5), rule=rule, printer=printer)
    assert [finding.severity for finding in small] == [Severity.REJECT]
    assert small[0].value is not None
    assert small[0].value < 0.2 == small[0].limit
    assert small[0].where
    assert not thin_line.check(artwork, PrintedSize(150, 35), rule=rule, printer=printer)


def test_without_limits_nothing_is_measured(drawn: Draw, rule_of: RuleOf, printer: Printer) -> None:
    """A rule without `thin_line` and `thin_gap` has no findings of them."""
    artwork = drawn(12, 12, 300, _stroke(0.1, 30))
    rule = rule_of()
    assert thin_line.check(artwork, PrintedSize(12, 12), rule=rule, printer=printer) == ()
    assert thin_gap.check(artwork, PrintedSize(12, 12), rule=rule, printer=printer) == ()


def test_the_message_never_shows_the_limit_as_passed(drawn: Draw, rule_of: RuleOf, printer: Printer) -> None:
    """A gap of a hair less than 0.3 mm is not said to be 0.30 mm wide."""
    artwork = _inverted(drawn(12, 12, 600, _stroke(0.28, 0)))
    (finding,) = thin_gap.check(
        artwork, PrintedSize(12, 12), rule=rule_of(preflight={"thin_gap": {"warn": "0.3 mm"}}), printer=printer
    )
    assert "0.2" in str(finding.message)
    assert "0.30 mm wide" not in str(finding.message)


def test_a_page_of_lettering_is_as_narrow_as_one_line_of_it(drawn: Draw) -> None:
    """The tips and joints of many letters do not add up to a hairline: forty lines measure what one does (metamorphic)."""

    def widths(lines: int) -> float | None:
        def paint(draw: Any, scale: float) -> None:
            font = ImageFont.load_default(size=2.6 * scale)
            for line in range(lines):
                draw.text((scale, (1 + 3.4 * line) * scale), "Kingfisher, Vole and Mayfly: Weir, Yare, Kell", font=font, fill=255)

        height = 2 + 3.4 * lines
        return narrow_parts(drawn(80, height, 300, paint), PrintedSize(80, height), part=Part.FILM, limit_mm=0.5).narrowest_mm

    assert widths(40) == pytest.approx(widths(1), abs=0.03)
