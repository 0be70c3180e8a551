"""Tone curves: even tones by ISO 20654 along each ink, white by its wedge, exact on the way back."""

from dataclasses import replace

import numpy as np
import pytest
from published_sets import fitted_press

from filmhand.colour.nominal import nominal_model
from filmhand.colour.opacity import NOMINAL
from filmhand.colour.printer_tone import printer_tone

INKS = ("C", "M", "Y", "K")

# SCTV of FOGRA39L's wedges by nominal amount, computed from the set's own XYZ by ISO 20654:2017 (X, Y, Z against D50).
SPOT_TONES = {20: (17.9, 17.6, 17.0, 15.5), 50: (47.8, 48.7, 46.8, 42.0), 80: (80.7, 82.1, 80.5, 73.9)}


@pytest.mark.outside
@pytest.mark.parametrize("amount", SPOT_TONES)
def test_tones_are_spot_colour_tone_values(amount: int) -> None:
    """The model fitted to FOGRA39L gives each ink the set's own tone value, within 1 %."""
    tones = printer_tone(fitted_press("FOGRA39L")).tones(np.full(4, amount / 100), inks=INKS)
    assert 100 * tones == pytest.approx(SPOT_TONES[amount], abs=1.0)


def test_there_and_back() -> None:
    """Any amounts come back from their tones; no ink is tone 0, full ink tone 1."""
    model = nominal_model((*INKS, "R", "G", "B", "O"))
    tone = printer_tone(model)
    amounts = np.random.default_rng(20654).random((500, 8))
    assert tone.amounts(tone.tones(amounts, inks=model.inks), inks=model.inks) == pytest.approx(amounts, abs=1e-9)
    for curve in tone.curves.values():
        assert curve[0] == 0
        assert curve[-1] == 1
        assert np.all(np.diff(curve) > 0)


def test_white_follows_its_wedge() -> None:
    """A white that lays 70 % of its volume when half is sent: half the volume is had by sending what the wedge says."""
    wedge = replace(NOMINAL, amounts=(0.0, 0.5, 1.0), volumes=(0.0, 0.7, 1.0))
    tone = printer_tone(replace(nominal_model(INKS), opacity=wedge))
    assert tone.amounts(np.array([0.7]), inks=("W",))[0] == pytest.approx(0.5, abs=2e-3)
    assert tone.amounts(np.array([0.35]), inks=("W2",))[0] == pytest.approx(0.25, abs=2e-3)
