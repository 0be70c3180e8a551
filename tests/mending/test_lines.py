"""Thin lines thickened: to the width asked for, in their own colour, and nothing else touched."""

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont

from bench.thin_lines import stroke
from filmhand.artwork.model import Artwork, Kind, PrintedSize
from filmhand.mending.lines import thickened
from filmhand.preflight import thin_line
from filmhand.preflight.finding import Severity
from filmhand.rules import Printer, Rule

_RULE = Rule.model_validate({"title": "test", "mend": {"lines": "0.4 mm"}, "preflight": {"thin_line": {"warn": "0.4 mm"}}})
_PRINTER = Printer.model_validate({"name": "test", "film_width": "600 mm"})
_SIZE = PrintedSize(12, 12)


def _artwork(coverage: NDArray[np.float64], rgb: tuple[int, int, int] = (200, 30, 40)) -> Artwork:
    pixels = np.zeros((*coverage.shape, 4), np.uint8)
    pixels[coverage > 0, :3] = rgb
    pixels[..., 3] = np.round(255 * coverage)
    return Artwork(pixels, None, None, Kind.PNG)


@pytest.mark.parametrize("ppi", [300, 720])
@pytest.mark.parametrize("width_mm", [0.05, 0.1, 0.2, 0.35])
def test_strokes_become_as_wide_as_asked(ppi: float, width_mm: float) -> None:
    """0.4 mm, as drawn by exact coverage: IoU at least 0.85 (its ends become round); the check is content with them."""
    for angle in (0, 22.5, 45, 78.75):
        artwork = _artwork(stroke(width_mm, angle, ppi=ppi, at_mm=(6.05, 6.02)))
        mended = thickened(artwork, _SIZE, rule=_RULE)
        wanted, got = stroke(0.4, angle, ppi=ppi, at_mm=(6.05, 6.02)), mended.pixels[..., 3] / 255
        assert np.minimum(wanted, got).sum() / np.maximum(wanted, got).sum() >= 0.85, angle
        assert thin_line.check(artwork, _SIZE, rule=_RULE, printer=_PRINTER)
        assert thin_line.check(mended, _SIZE, rule=_RULE, printer=_PRINTER) == ()
        assert (mended.pixels[mended.pixels[..., 3] > 0, :3] == (200, 30, 40)).all()
        (finding,) = mended.findings
        assert (finding.check, finding.severity) == ("thin_line", Severity.WARN)
        assert finding.value == pytest.approx(width_mm, abs=0.04)
        assert "were thickened to 0.4 mm" in str(finding.message)


def test_the_rest_stays_bit_for_bit() -> None:
    """A hairline beside a square with a soft corner: only around the hairline anything changes; marked where it is."""
    coverage = np.zeros((240, 240))
    coverage[100:200, 20:120] = np.linspace(0.2, 1, 100)
    coverage[20:22, 20:220] = 1
    artwork = _artwork(coverage)
    mended = thickened(artwork, PrintedSize(20, 20), rule=_RULE)
    assert np.array_equal(mended.pixels[40:], artwork.pixels[40:])
    (box,) = mended.findings[0].where
    assert (box.left * 240, box.top * 240) == pytest.approx((18, 18), abs=2)
    assert (box.width * 240, box.height * 240) == pytest.approx((204, 6), abs=2)


def test_what_is_wide_enough_is_left_alone() -> None:
    """The same artwork comes back; and whatever comes, where the rule asks for nothing."""
    artwork = _artwork(stroke(0.45, 30, ppi=300, at_mm=(6, 6)))
    assert thickened(artwork, _SIZE, rule=_RULE) is artwork
    thin = _artwork(stroke(0.2, 30, ppi=300, at_mm=(6, 6)))
    assert thickened(thin, _SIZE, rule=Rule(title="test")) is thin


def test_each_line_keeps_its_colour() -> None:
    """A red hairline and a blue one, 1 mm apart: 0.4 mm of each."""
    coverage = np.zeros((120, 240))
    coverage[50:52, 20:220] = coverage[62:64, 20:220] = 1
    pixels = _artwork(coverage).pixels
    pixels[60:, :, :3] = (20, 40, 210)
    mended = thickened(Artwork(pixels, None, None, Kind.PNG), PrintedSize(20, 10), rule=_RULE).pixels
    solid = mended[..., 3] >= 128
    assert (mended[:57][solid[:57], :3] == (200, 30, 40)).all()
    assert (mended[57:][solid[57:], :3] == (20, 40, 210)).all()
    assert solid[:57, 120].sum() == solid[57:, 120].sum()
    assert mended[:, 120, 3].sum() / 255 == pytest.approx(2 * 0.44 * 12, abs=0.5)  # 12 pixels a mm, a little spare


def test_the_canvas_grows_where_a_line_would_be_cut() -> None:
    """A hairline along the upper edge of trimmed artwork is 0.4 mm wide at the printed size; below it all is as it was."""
    coverage = np.zeros((100, 240))
    coverage[0, :] = 1
    coverage[40:, 20:200] = 1
    artwork = _artwork(coverage)
    mended = thickened(artwork, PrintedSize(24, 10), rule=_RULE)
    top, right = mended.height_px - 100, mended.width_px - 240
    assert top > 0
    assert right > 0
    left = right // 2
    assert np.array_equal(mended.pixels[top + 30 :, left : left + 240], artwork.pixels[30:])
    column = mended.pixels[: top + 20, 120 + left, 3] / 255
    assert column.sum() / (mended.height_px / 10) == pytest.approx(0.44, abs=0.05)
    assert thin_line.check(mended, PrintedSize(24, 10), rule=_RULE, printer=_PRINTER) == ()


def test_lettering_is_thickened_throughout() -> None:
    """Words 3 mm high, in Pillow's own font: nothing of them is thin afterwards."""
    picture = Image.new("L", (4 * 360, 4 * 60))
    ImageDraw.Draw(picture).text((40, 20), "Regatta sails & oars", font=ImageFont.load_default(size=140), fill=255)
    artwork = _artwork(np.asarray(picture.reduce(4)) / 255)
    size = PrintedSize(30, 5)
    assert thin_line.check(artwork, size, rule=_RULE, printer=_PRINTER)
    mended = thickened(artwork, size, rule=_RULE)
    assert thin_line.check(mended, size, rule=_RULE, printer=_PRINTER) == ()
