"""Artwork of the garment's colour."""

from collections.abc import Callable

import numpy as np
import pytest
from cut_outs import png

from filmhand.artwork.model import PrintedSize
from filmhand.preflight import vanishing
from filmhand.preflight.finding import Finding, Severity
from filmhand.rules import Printer, Rule

RuleOf = Callable[..., Rule]


def _halves(left: tuple[int, int, int], right: tuple[int, int, int], *, share: float = 0.5) -> np.ndarray:
    """A rectangle 300 × 200 on nothing, so much of it in the left colour."""
    pixels = np.zeros((400, 500, 4), np.uint8)
    pixels[100:300, 100:400] = (*right, 255)
    pixels[100:300, 100 : 100 + round(300 * share), :3] = left
    return pixels


def _found(pixels: np.ndarray, rule: Rule, printer: Printer) -> Finding | None:
    findings = vanishing.check(png(pixels), PrintedSize(100, 80), rule=rule, printer=printer)
    return findings[0] if findings else None


@pytest.mark.parametrize(("share", "severity"), [(0.6, None), (0.8, Severity.WARN), (0.97, Severity.HOLD)])
def test_the_share_of_what_is_seen(rule_of: RuleOf, printer: Printer, share: float, severity: Severity | None) -> None:
    """Navy on a navy shirt; what is transparent does not count."""
    navy = (32, 43, 84)
    found = _found(_halves(navy, (240, 200, 40), share=share), rule_of(garment="#202b54"), printer)
    assert (None if found is None else found.severity) is severity
    if found is not None:
        assert found.value == pytest.approx(100 * share, abs=0.5)
        (box,) = found.where
        assert (box.left, box.top) == pytest.approx((0.2, 0.25), abs=0.02)
        assert (box.width, box.height) == pytest.approx((0.6 * share, 0.5), abs=0.03)


def test_near_is_by_colour_difference(rule_of: RuleOf, printer: Printer) -> None:
    """Grays 128 and 132 are ΔE00 1.5 apart, 128 and 140 are 4.4 (scikit-image): within 2.5, beyond it, and within 5."""
    gray = rule_of(garment="#808080")
    assert _found(_halves((132,) * 3, (240, 200, 40), share=0.8), gray, printer) is not None
    assert _found(_halves((140,) * 3, (240, 200, 40), share=0.8), gray, printer) is None
    wide = rule_of(garment="#808080", knockout={"tolerance": 5})
    assert _found(_halves((140,) * 3, (240, 200, 40), share=0.8), wide, printer) is not None


def test_black_vanishes_on_what_is_sold_as_black(rule_of: RuleOf, printer: Printer) -> None:
    """Full black on a black shirt of #1b1b1d, though the numbers lie apart; not on navy, nor deep blue on black."""
    yellow = (240, 200, 40)
    assert _found(_halves((0, 0, 0), yellow, share=0.8), rule_of(garment="#1b1b1d"), printer) is not None
    assert _found(_halves((0, 0, 0), yellow, share=0.8), rule_of(garment="#202b54"), printer) is None
    assert _found(_halves((0, 0, 90), yellow, share=0.8), rule_of(garment="#1b1b1d"), printer) is None


def test_a_ground_of_the_garments_colour_is_no_motif(rule_of: RuleOf, printer: Printer) -> None:
    """A yellow square on solid black for a black shirt: all of the motif will be seen; a black rule around it will not."""
    pixels = np.full((400, 400, 4), (27, 27, 29, 255), np.uint8)
    pixels[150:250, 150:250, :3] = (240, 200, 40)
    assert _found(pixels, rule_of(garment="#1b1b1d"), printer) is None
    assert _found(pixels, rule_of(garment="#f0c828", preflight={"vanishing": {"warn": 5}}), printer) is not None
