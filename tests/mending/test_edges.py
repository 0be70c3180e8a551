"""Soft edges made hard: where they pass the rule's opacity, with a smooth last pixel; what is hard stays."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from filmhand.artwork.model import Artwork, Kind, PrintedSize
from filmhand.mending.edges import hardened
from filmhand.preflight import soft_edge
from filmhand.preflight.finding import Severity
from filmhand.rules import Printer, Rule

_PRINTER = Printer.model_validate({"name": "test", "film_width": "600 mm"})
_SIZE = PrintedSize(60, 60)
_Y, _X = np.mgrid[:600, :600] + 0.5
_RADIUS = np.hypot(_X - 300.3, _Y - 299.6)


def _rule(edges: float | None) -> Rule:
    return Rule.model_validate({"title": "test", "mend": {"edges": edges}, "preflight": {"soft_edge": {"warn": 0.2}}})


def _artwork(coverage: NDArray[np.float64]) -> Artwork:
    pixels = np.empty((*coverage.shape, 4), np.uint8)
    pixels[..., 0], pixels[..., 1], pixels[..., 2] = 200, _X % 256, _Y % 256
    pixels[..., 3] = np.round(255 * coverage)
    return Artwork(pixels, None, None, Kind.PNG)


def _disc(radius: float) -> NDArray[np.float64]:
    """Coverage of a disc, to first order exact."""
    return np.clip(radius - _RADIUS + 0.5, 0, 1)


@pytest.mark.parametrize(("edges", "radius"), [(50, 200.0), (30, 204.0), (75, 195.0)])
@pytest.mark.parametrize("fade", [20.0])
def test_a_fade_becomes_the_disc_that_it_passes_the_limit_at(edges: float, radius: float, fade: float) -> None:
    """Fading over 20 pixels, it is 50 % at radius 200, 30 % at 204, 75 % at 195: within a tenth of coverage everywhere."""
    mended = hardened(_artwork(np.clip((200 - _RADIUS) / fade + 0.5, 0, 1)), _SIZE, rule=_rule(edges))
    assert np.abs(mended.pixels[..., 3] / 255 - _disc(radius)).max() < 0.1
    (finding,) = mended.findings
    assert (finding.check, finding.severity) == ("soft_edge", Severity.WARN)
    assert f"{edges} % opaque was made solid" in str(finding.message)
    changed, seen = (200 + 0.4 * fade) ** 2 - (200 - 0.4 * fade) ** 2, (200 + 0.45 * fade) ** 2  # 10 to 90 %, from 5 %
    assert finding.value == pytest.approx(100 * changed / seen, rel=0.03)


def test_after_it_nothing_is_soft() -> None:
    """A glow and a shadow: the check finds them before, and nothing after; colours are the same."""
    artwork = _artwork(np.maximum(_disc(150), 0.6 * gaussian_filter(np.roll(_disc(150), 20, 1), 20)))
    rule = _rule(40)
    assert soft_edge.check(artwork, _SIZE, rule=rule, printer=_PRINTER)
    mended = hardened(artwork, _SIZE, rule=rule)
    assert soft_edge.check(mended, _SIZE, rule=rule, printer=_PRINTER) == ()
    assert np.array_equal(mended.pixels[..., :3], artwork.pixels[..., :3])
    assert hardened(mended, _SIZE, rule=rule) is mended


def test_hard_edges_stay_bit_for_bit() -> None:
    """A disc, fine rings, a hairline of 60 %: antialiased, they are what they are. Without the rule so is everything."""
    rings = np.clip(np.abs((_RADIUS % 9) - 4.5) - 2.5 + 0.5, 0, 1) * (_RADIUS > 215)
    coverage = np.maximum(_disc(200), rings)
    coverage[:, 3:4] = 0.6
    artwork = _artwork(coverage)
    assert hardened(artwork, _SIZE, rule=_rule(50)) is artwork
    glow = _artwork(np.clip((200 - _RADIUS) / 40 + 0.5, 0, 1))
    assert hardened(glow, _SIZE, rule=_rule(None)) is glow


def test_a_hard_edge_beside_a_soft_one_stays() -> None:
    """A square with a fade along one side: its other sides are not touched."""
    coverage = np.zeros((600, 600))
    coverage[100:500, 100:400] = 1
    coverage[100:500, 99] = 0.3
    coverage[100:500, 400:500] = np.linspace(1, 0, 100)
    mended = hardened(_artwork(coverage), _SIZE, rule=_rule(50))
    before, after = np.round(255 * coverage), mended.pixels[..., 3]
    assert np.array_equal(after[:, :390], before[:, :390])
    assert np.array_equal(after[300, 400:449], np.full(49, 255))
    assert np.array_equal(after[300, 451:], np.zeros(149))
    (box,) = mended.findings[0].where
    assert box.left == pytest.approx(400 / 600, abs=0.03)
    assert box.left + box.width == pytest.approx(500 / 600, abs=0.03)
