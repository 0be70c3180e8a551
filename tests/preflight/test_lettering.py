"""Small lettering: found and measured in a real font, as film, knocked out and on a panel; what only looks alike is not."""

from collections.abc import Callable
from typing import Any

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFont
from skimage import data

from filmhand.artwork.model import Artwork, Kind, PrintedSize
from filmhand.preflight import lettering
from filmhand.preflight.finding import Finding, Severity
from filmhand.rules import Printer, Rule

RuleOf = Callable[..., Rule]
Draw = Callable[..., Artwork]

_SIZE = PrintedSize(44, 14)
_WORDS = ("handmade in the harbour", "Rowing since 1887", "wash at 30, no iron", "moonrace crew")
_COLOURS = {"light": ((240, 230, 40), (30, 40, 90)), "dark": ((20, 20, 20), (200, 120, 60))}


@pytest.fixture
def look(rule_of: RuleOf, printer: Printer) -> Callable[..., tuple[Finding, ...]]:
    """The check with a warning below 1.5 mm."""
    rule = rule_of(preflight={"lettering": {"warn": "1.5 mm", "reject": "0.7 mm"}})
    return lambda artwork, size=_SIZE: lettering.check(artwork, size, rule=rule, printer=printer)


def _text(words: str, x_mm: float, ppi: float) -> NDArray[np.float64]:
    """Coverage (h×w) of words 3 mm from the left in Pillow's own font, its x so high by the font's own bounding box."""
    large = ImageFont.load_default(size=1000).getbbox("x")
    scale = 4 * ppi / 25.4
    font = ImageFont.load_default(size=x_mm * scale * 1000 / (large[3] - large[1]))
    width, height = (round(side * ppi / 25.4) for side in (_SIZE.width_mm, _SIZE.height_mm))
    picture = Image.new("L", (4 * width, 4 * height))
    ImageDraw.Draw(picture).text((3 * scale, 4 * scale), words, font=font, fill=255)
    return np.asarray(picture.reduce(4)) / 255


def _drawn(words: str, x_mm: float, ppi: float, manner: str) -> Artwork:
    """Words as film, knocked `out` of a panel, or in a light or dark colour on a panel."""
    text = _text(words, x_mm, ppi)
    pixels = np.full((*text.shape, 4), 60, np.uint8)
    panel = np.zeros_like(text)
    panel[8:-8, 8:-8] = 1
    if manner in _COLOURS:
        letter, ground = _COLOURS[manner]
        pixels[..., :3] = np.round(text[..., None] * letter + (1 - text[..., None]) * ground)
    alpha = {"film": text, "out": panel * (1 - text)}.get(manner, panel)
    pixels[..., 3] = np.round(255 * alpha)
    return Artwork(pixels, None, None, Kind.PNG)


@pytest.mark.parametrize("manner", ["film", "out", "light", "dark"])
@pytest.mark.parametrize("ppi", [300, 600])
@pytest.mark.parametrize("x_mm", [0.6, 0.8, 1.1])
def test_small_lettering_is_measured(look: Callable[..., Any], manner: str, ppi: float, x_mm: float) -> None:
    """Its x within 0.13 mm (1.5 pixels at 300 ppi) of the font's own; the box lies round the row."""
    for words in _WORDS:
        found = look(_drawn(words, x_mm, ppi, manner))
        assert len(found) == 1, words
        assert found[0].value == pytest.approx(x_mm, abs=0.13), words
        ink = np.nonzero(_text(words, x_mm, ppi) >= 0.5)
        true = np.array([ink[1].min(), ink[0].min(), ink[1].max() + 1, ink[0].max() + 1]) * 25.4 / ppi
        assert _overlap(found[0], true) >= 0.5, words


def _overlap(finding: Finding, true: NDArray[np.float64]) -> float:
    """Intersection over union of the largest box and a true one (left, top, right, bottom, mm)."""
    box = finding.where[0]
    left, top = box.left * _SIZE.width_mm, box.top * _SIZE.height_mm
    right, bottom = left + box.width * _SIZE.width_mm, top + box.height * _SIZE.height_mm
    across = max(0.0, min(right, true[2]) - max(left, true[0]))
    down = max(0.0, min(bottom, true[3]) - max(top, true[1]))
    union = (right - left) * (bottom - top) + (true[2] - true[0]) * (true[3] - true[1]) - across * down
    return float(across * down / union)


def test_severity_follows_the_limits(look: Callable[..., Any], rule_of: RuleOf, printer: Printer) -> None:
    """0.5 mm is rejected, 1 mm warned of, 2 mm passed; without limits nothing is said."""
    for x_mm, severities in ((0.5, [Severity.REJECT]), (1.0, [Severity.WARN]), (2.0, [])):
        artwork = _drawn("Rowing since 1887", x_mm, 600, "film")
        assert [finding.severity for finding in look(artwork)] == severities
        assert lettering.check(artwork, _SIZE, rule=rule_of(), printer=printer) == ()


@pytest.mark.parametrize("manner", ["film", "out", "light", "dark"])
@pytest.mark.parametrize("ppi", [150, 300])
def test_large_lettering_is_not_small(look: Callable[..., Any], manner: str, ppi: float) -> None:
    """Nor are its dots, its counters, or the gaps between its letters."""
    for words in _WORDS:
        for x_mm in (2.0, 2.6):
            assert look(_drawn(words, x_mm, ppi, manner)) == ()


def test_patterns_are_not_lettering(look: Callable[..., Any], drawn: Draw) -> None:
    """Rows of dots, of dashes, of squares, of zigzags; halftone dots that grow along a row."""

    def dots(grow: float) -> Callable[[Any, float], None]:
        def paint(draw: Any, scale: float) -> None:
            for row in range(10):
                for column in range(30):
                    x, y, r = 2 + 1.3 * column, 1 + 1.2 * row, 0.25 + grow * column
                    draw.ellipse([value * scale for value in (x - r, y - r, x + r, y + r)], fill=255)

        return paint

    def dashes(draw: Any, scale: float) -> None:
        for row in range(10):
            for column in range(20):
                draw.rectangle([value * scale for value in (2 + 2 * column, 1 + row, 3.2 + 2 * column, 1.4 + row)], fill=255)

    def zigzags(draw: Any, scale: float) -> None:
        for row in range(5):
            for column in range(15):
                x, y = 2 + 2 * column, 2 + 2 * row
                draw.line(
                    [(x * scale, y * scale), ((x + 0.8) * scale, (y + 0.8) * scale), ((x + 1.6) * scale, y * scale)], 255, 12
                )

    for paint in (dots(0), dots(0.01), dashes, zigzags):
        artwork = drawn(44, 14, 300, paint)
        assert look(artwork) == ()
        knocked_out = artwork.pixels.copy()
        knocked_out[..., 3] = 255 - knocked_out[..., 3]
        assert look(Artwork(knocked_out, None, None, Kind.PNG)) == ()


@pytest.mark.parametrize("grain_mm", [0.6, 1.0, 1.5, 3.0])
def test_textures_are_not_lettering(look: Callable[..., Any], grain_mm: float) -> None:
    """Smooth noise cut at its middle: shapes of every kind, in no rows."""
    for seed in range(6):
        cells = round(30 / grain_mm)
        noise = np.random.default_rng(seed).random((cells, cells), dtype=np.float32)
        smooth = cv2.resize(noise, (354, 354), interpolation=cv2.INTER_CUBIC)  # 30 mm at 300 ppi
        pixels = np.full((354, 354, 4), 120, np.uint8)
        pixels[..., 3] = 255 * np.clip((smooth - 0.5) * 40 + 0.5, 0, 1)
        assert look(Artwork(pixels, None, None, Kind.PNG), PrintedSize(30, 30)) == ()


def test_photographs_are_not_lettering_and_a_scanned_page_is(look: Callable[..., Any]) -> None:
    """Photographs that scikit-image carries, at three sizes each; its scanned page, printed 40 mm wide, is small print."""

    def opaque(picture: NDArray[np.uint8]) -> Artwork:
        rgb = picture if picture.ndim == 3 else np.dstack([picture] * 3)
        return Artwork(np.dstack((rgb[..., :3], np.full(rgb.shape[:2], 255, np.uint8))), None, None, Kind.PNG)

    for name in ("astronaut", "camera", "coffee", "chelsea", "grass", "gravel", "brick", "rocket", "coins"):
        picture = getattr(data, name)()
        for width_mm in (40, 100, 250):
            height_mm = width_mm * picture.shape[0] / picture.shape[1]
            assert look(opaque(picture), PrintedSize(width_mm, height_mm)) == (), (name, width_mm)
    page = data.page()
    assert look(opaque(page), PrintedSize(40, 40 * page.shape[0] / page.shape[1]))
