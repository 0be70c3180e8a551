"""Half transparency: glows, shadows and fades are told with how opaque they are; smooth edges are not."""

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from filmhand.artwork.model import Artwork, Kind, PrintedSize
from filmhand.preflight import soft_edge
from filmhand.preflight.finding import Finding, Severity
from filmhand.rules import Printer, Rule

RuleOf = Callable[..., Rule]
Look = Callable[[NDArray[np.float64]], tuple[Finding, ...]]

_PX_MM = 8.0
_SIDE_MM = 60


@pytest.fixture
def look(rule_of: RuleOf, printer: Printer) -> Look:
    """The check of coverage (h×w, 0 to 1) printed 60 mm wide and high."""
    rule = rule_of(preflight={"soft_edge": {"warn": 2, "hold": 40}})

    def check(coverage: NDArray[np.float64]) -> tuple[Finding, ...]:
        pixels = np.full((*coverage.shape, 4), 80, np.uint8)
        pixels[..., 3] = np.round(255 * coverage)
        return soft_edge.check(Artwork(pixels, None, None, Kind.PNG), PrintedSize(_SIDE_MM, _SIDE_MM), rule=rule, printer=printer)

    return check


def _card() -> NDArray[np.float64]:
    """A solid square of 30 mm in the middle."""
    coverage = np.zeros((480, 480))
    coverage[120:360, 120:360] = 1
    return coverage


def test_a_panel_is_told_with_its_opacity(look: Look) -> None:
    """Beside 30 × 30 mm of solid, 30 × 10 mm at 40 %: a quarter of what is seen, on average 40 % opaque, and where."""
    coverage = _card()
    coverage[400:480, 120:360] = 0.4
    (finding,) = look(coverage)
    assert finding.value == pytest.approx(25, abs=0.5)
    assert finding.severity is Severity.WARN
    assert str(finding.message).startswith("25 % of the artwork is half transparent")
    assert "on average 40 % opaque" in str(finding.message)
    (box,) = finding.where
    assert (box.left, box.top, box.width, box.height) == pytest.approx((0.25, 5 / 6, 0.5, 1 / 6), abs=0.01)


def test_a_shadow_and_a_glow_are_found(look: Look) -> None:
    """A shadow thrown 3 mm aside and blurred by 2 mm, a glow of 4 mm all round: scipy's Gaussian filter draws both."""
    shadow = np.maximum(_card(), 0.5 * gaussian_filter(np.roll(_card(), (24, 24), (0, 1)), 2 * _PX_MM))
    glow = np.maximum(_card(), gaussian_filter(_card(), 4 * _PX_MM))
    for coverage in (shadow, glow):
        (finding,) = look(coverage)
        assert finding.value == pytest.approx(_soft_share(coverage), rel=0.15)


def _soft_share(coverage: NDArray[np.float64]) -> float:
    """Percent of what is seen that lies between 5 and 95 %: for shapes whose soft parts are all wide."""
    return 100 * float(np.mean((coverage >= 0.05) & (coverage <= 0.95)) / np.mean(coverage >= 0.05))


def test_a_fade_across_the_whole_is_held(look: Look) -> None:
    """From nothing to solid over 60 mm: 90 of 95 % are half transparent, half opaque on average."""
    (finding,) = look(np.tile(np.linspace(0, 1, 480), (480, 1)))
    assert finding.severity is Severity.HOLD
    assert finding.value == pytest.approx(100 * 90 / 95, abs=0.7)
    assert "50 % opaque" in str(finding.message)


@pytest.mark.parametrize("blur_mm", [0.0, 0.05, 0.15, 0.25])
def test_smooth_edges_say_nothing(look: Look, blur_mm: float) -> None:
    """Antialiasing, and feathers of up to 1 mm from 5 to 95 % (3.3 standard deviations), even round sixteen squares."""
    squares = np.zeros((480, 480))
    for top in range(40, 480, 110):
        for left in range(40, 480, 110):
            squares[top : top + 64, left : left + 64] = 1
    assert look(gaussian_filter(squares, blur_mm * _PX_MM)) == ()
