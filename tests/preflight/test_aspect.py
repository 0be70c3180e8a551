"""Proportions that were ordered and are not the artwork's."""

import numpy as np
import pytest

from filmhand.artwork.model import Artwork, Kind
from filmhand.preflight import aspect
from filmhand.preflight.finding import Severity
from filmhand.rules import Limits


def _artwork(width: int, height: int, ppi: tuple[float, float] | None = None) -> Artwork:
    return Artwork(np.zeros((height, width, 4), np.uint8), None, ppi, Kind.PNG)


@pytest.mark.parametrize(
    ("ordered", "percent"),
    [((200, 100), 0), ((203, 100), 1.5), ((200, 98), 2.0408), ((204.01, 100), 2.005), ((100, 100), 100), ((200, 25), 300)],
)
def test_how_far_off(ordered: tuple[float, float], percent: float) -> None:
    """Artwork of 2 to 1; more than 2 % is said, too wide and too high alike."""
    found = aspect.check(_artwork(600, 300), ordered=ordered, limits=Limits(warn=2))
    assert bool(found) is (percent > 2)
    for finding in found:
        assert finding.value == pytest.approx(percent, rel=1e-3)
        assert (finding.severity, finding.limit, finding.unit) == (Severity.WARN, 2, "%")


def test_what_is_printed_instead_is_said() -> None:
    """2 to 1 inside 100 × 100 is 100 × 50; inside 300 × 80 it is 160 × 80."""
    (square,) = aspect.check(_artwork(600, 300), ordered=(100, 100), limits=Limits(warn=2))
    (long,) = aspect.check(_artwork(600, 300), ordered=(300, 80), limits=Limits(warn=2, hold=50))
    assert "100 × 50 mm" in str(square.message)
    assert "160 × 80 mm" in str(long.message)
    assert long.severity is Severity.HOLD


def test_pixels_need_not_be_square() -> None:
    """300 × 300 pixels at 200 × 100 an inch are 1.5 × 3 inches."""
    found = aspect.check(_artwork(300, 300, (200.0, 100.0)), ordered=(50, 100), limits=Limits(warn=2))
    assert found == ()


def test_one_length_cannot_be_wrong() -> None:
    """Nothing, or one length, was ordered."""
    assert aspect.check(_artwork(600, 300), ordered=None, limits=Limits(warn=0)) == ()
