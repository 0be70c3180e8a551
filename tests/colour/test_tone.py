"""Tone values against worked numbers of the published formulas, and against a published characterisation."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmhand.colour.neugebauer import mixed
from filmhand.colour.tone import area, density, spot_tone_value, tint_density, tone_value

FOGRA39L = Path("/usr/share/color/icc/FOGRA39L.ti3")  # Debian icc-profiles-free, Zlib licence
needs_fogra = pytest.mark.skipif(not FOGRA39L.exists(), reason="needs FOGRA39L.ti3 (Debian icc-profiles-free)")
TONES = (20, 40, 50, 70, 80, 100)


# Murray and Davies (n 1), Yule and Nielsen (above): worked out apart from this code, from the formulas.
@pytest.mark.parametrize(
    ("tint", "solid", "n", "covered"),
    [
        (0.30, 1.50, 1.0, 0.515102),
        (0.30, 1.50, 1.7, 0.384303),
        (0.30, 1.50, 2.0, 0.355223),
        (0.75, 1.60, 1.0, 0.843356),
        (0.75, 1.60, 1.7, 0.720393),
        (0.287509, 1.5, 1.0, 0.5),
        (0.459896, 1.5, 2.0, 0.5),
    ],
)
def test_area_from_density(tint: float, solid: float, n: float, covered: float) -> None:
    """Densities to dot area and back, to the digits worked out."""
    assert area(np.array(tint), solid=solid, n=n) == pytest.approx(covered, abs=1e-6)
    assert tint_density(np.array(covered), solid=solid, n=n) == pytest.approx(tint, abs=2e-6)


@pytest.mark.parametrize(("n", "light"), [(1.0, 0.45), (1.7, 0.351082), (2.0, 0.328078)])
def test_area_and_neugebauer_are_one_formula(n: float, light: float) -> None:
    """Half a tint between paper 0.85 and full ink 0.05 (worked numbers): by densities, and by the one-ink Neugebauer model."""
    solid = float(density(np.array(0.05), ground=0.85))
    assert 0.85 * 10 ** -tint_density(np.array(0.5), solid=solid, n=n) == pytest.approx(light, abs=1e-6)
    primaries = np.array([[0.85] * 3, [0.05] * 3])
    assert mixed(np.array([0.5]), primaries=primaries, n=n)[0] == pytest.approx(light, abs=1e-6)


@given(st.floats(0, 1), st.floats(0.05, 3), st.floats(1, 4))
def test_there_and_back(covered: float, solid: float, n: float) -> None:
    """No ink and full ink are exact, and any area comes back from its density."""
    assert area(np.array([0, solid]), solid=solid, n=n) == pytest.approx([0, 1], abs=1e-12)
    assert area(tint_density(np.array(covered), solid=solid, n=n), solid=solid, n=n) == pytest.approx(covered, abs=1e-9)


def test_density() -> None:
    """A tenth of the light is density 1, all of it 0, none of it without bound (the definition, ISO 5-3)."""
    assert density(np.array([1, 0.1, 0.01, 0])).tolist() == [0, 1, 2, np.inf]
    assert density(np.array(0.05), ground=0.5) == pytest.approx(1)


def ramp(ink: int) -> np.ndarray:
    """XYZ (7, 3), Y 1, of FOGRA39L's paper and `TONES` of one ink, C M Y K counted from 0."""
    text = FOGRA39L.read_text("latin-1")
    fields = text.split("BEGIN_DATA_FORMAT")[1].split("END_DATA_FORMAT")[0].split()
    rows = [line.split() for line in text.split("BEGIN_DATA\n")[1].split("END_DATA")[0].splitlines() if line.strip()]
    amount_columns = [fields.index(f"CMYK_{letter}") for letter in "CMYK"]
    colour_columns = [fields.index(f"XYZ_{axis}") for axis in "XYZ"]
    found = {tuple(float(row[i]) for i in amount_columns): [float(row[i]) / 100 for i in colour_columns] for row in rows}
    return np.array([found[tuple(float(tone) if i == ink else 0.0 for i in range(4))] for tone in (0, *TONES)])


# ISO 20654 and Murray-Davies on FOGRA39L's ramps: worked out apart from this code, from the formulas, to one decimal.
@needs_fogra
@pytest.mark.outside
@pytest.mark.parametrize(
    ("ink", "values"),
    [
        (0, (17.9, 37.5, 47.8, 69.8, 80.7, 100)),
        (1, (17.6, 37.8, 48.7, 71.1, 82.1, 100)),
        (2, (17.0, 36.4, 46.8, 69.2, 80.5, 100)),
        (3, (15.5, 32.6, 42.0, 62.6, 73.9, 100)),
    ],
)
def test_spot_tone_value(ink: int, values: tuple[float, ...]) -> None:
    """ISO 20654's tone values of FOGRA39L's ramps."""
    colours = ramp(ink)
    assert spot_tone_value(colours[0], ground=colours[0], solid=colours[-1]) == 0
    found = 100 * spot_tone_value(colours[1:], ground=colours[0], solid=colours[-1])
    assert found == pytest.approx(np.array(values), abs=0.0501)


@needs_fogra
@pytest.mark.outside
@pytest.mark.parametrize(
    ("ink", "channel", "increases"),
    [
        (0, 0, (6.3, 10.5, 11.4, 10.8, 8.7, 0)),
        (1, 1, (7.2, 12.3, 13.7, 12.7, 10.2, 0)),
        (2, 2, (7.6, 13.1, 14.4, 13.5, 10.8, 0)),
        (3, 1, (10.2, 16.0, 17.2, 15.0, 11.5, 0)),
    ],
)
def test_tone_value_increase(ink: int, channel: int, increases: tuple[float, ...]) -> None:
    """Tone value increase of FOGRA39L's ramps by the tristimulus value each ink darkens."""
    light = ramp(ink)[:, channel]
    found = 100 * tone_value(light[1:], ground=light[0], solid=light[-1]) - np.array(TONES)
    assert found == pytest.approx(np.array(increases), abs=0.0501)


@needs_fogra
@pytest.mark.outside
@pytest.mark.parametrize(("ink", "channel", "at_40", "at_50"), [(1, 1, 13.0, 14.3), (2, 2, 13.0, 14.3), (3, 1, 16.0, 17.0)])
def test_the_printing_condition_that_the_data_name(ink: int, channel: int, at_40: float, at_50: float) -> None:
    """FOGRA39L names ISO 12647-2's curves A (colours) and B (black): these increases (from memory), within a point."""
    light = ramp(ink)[:, channel]
    found = 100 * tone_value(light[[2, 3]], ground=light[0], solid=light[-1]) - np.array([40, 50])
    assert found == pytest.approx(np.array([at_40, at_50]), abs=1.0)
