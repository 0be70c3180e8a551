"""Thresholds: exactly the tones whose amount passes a dot's onset lay it, whatever the curve and the drop."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmhand.halftone.thresholds import onsets_in_turn, onsets_of, thresholds

SOME = np.random.default_rng(3).random((37, 53))
CURVES = {
    "straight": np.linspace(0, 1, 256),
    "gain": np.linspace(0, 1, 256) ** 1.7,
    "steps": np.repeat(np.linspace(0, 1, 16), 16),
}


@pytest.mark.parametrize("curve", CURVES)
@pytest.mark.parametrize(("start", "full"), [(0.0, 1.0), (0.0, 0.3), (0.3, 0.7), (0.7, 1.0)])
def test_a_dot_is_laid_by_the_tones_past_its_onset(curve: str, start: float, full: float) -> None:
    """For all 256 tones, against the rule written out: laid if (curve(tone) - start) / (full - start) > onset."""
    amounts = CURVES[curve]
    tile = thresholds(SOME, curve=amounts, start=start, full=full)
    for tone in range(256):
        assert np.array_equal(tone > tile, (amounts[tone] - start) / (full - start) > SOME)


@given(st.floats(0, np.nextafter(1, 0)), st.floats(0.2, 5), st.floats(0, 0.9), st.floats(0.01, 1))
def test_nothing_at_none_all_at_full(onset: float, bend: float, start: float, way: float) -> None:
    """Tone 0 lays no dot and tone 255 every one up to its drop, for any onset, curve and drop."""
    curve = np.linspace(0, 1, 256) ** bend
    threshold = int(thresholds(np.array([[onset]]), curve=curve, start=start, full=min(1.0, start + way))[0, 0])
    assert 0 <= threshold <= 254


def test_a_curve_changes_the_mean_to_its_amount() -> None:
    """A flat tone's mean is the curve's amount, to half a dot of the tile."""
    onsets = onsets_of(np.random.default_rng(8).permutation(64 * 64).reshape(64, 64).astype(np.uint32))
    for amounts in CURVES.values():
        tile = thresholds(onsets, curve=amounts)
        means = np.array([(tone > tile).mean() for tone in range(256)])
        assert np.abs(means - amounts).max() <= 0.5001 / tile.size


def test_blocks_come_at_once() -> None:
    """Three dots, then one, then two: onsets at the middles of 0-3, 3-4 and 4-6 sixths."""
    order = np.array([4, 1, 0, 5, 2, 3])
    onsets = onsets_in_turn(order, np.array([True, False, False, True, True, False]))
    assert onsets == pytest.approx(np.array([1.5, 1.5, 5, 5, 1.5, 3.5]) / 6)
