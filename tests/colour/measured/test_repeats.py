"""Averages, outliers and noise of small charts counted by hand."""

import numpy as np
import pytest

from filmhand.colour.cielab import xyz_from_lab
from filmhand.colour.measured.readings import Readings, Spectra
from filmhand.colour.measured.repeats import averaged


def chart(*patches: tuple[str, float, float]) -> Readings:
    """Name, amount of K, lightness of a gray."""
    lab = np.array([[lightness, 0.0, 0.0] for _, _, lightness in patches])
    return Readings(("K",), tuple(p[0] for p in patches), np.array([[p[1]] for p in patches]), xyz_from_lab(lab))


def test_nothing_repeats() -> None:
    """Every reading stands; noise is unknown."""
    once = chart(("a", 0, 95), ("b", 0.5, 60), ("c", 1, 16))
    found = averaged(once)
    assert found.readings.names == once.names
    assert np.array_equal(found.readings.xyz, once.xyz)
    assert (found.noise_lab, found.noise_de00, found.outliers) == (None, None, ())


def test_means_in_order_of_appearance() -> None:
    """Light is averaged, spectra too; each row has the name of its first reading."""
    three = chart(("a", 1, 16), ("b", 0, 95), ("c", 1, 16.2))
    spectra = Spectra(np.arange(400.0, 701, 10), np.array([[0.02], [0.8], [0.04]]) * np.ones(31))
    found = averaged(Readings(three.inks, three.names, three.amounts, three.xyz, spectra))
    assert found.readings.names == ("a", "b")
    assert found.counts.tolist() == [2, 1]
    assert np.allclose(found.readings.xyz[0], three.xyz[[0, 2]].mean(axis=0))
    assert found.readings.spectra is not None
    assert np.allclose(found.readings.spectra.reflectances[:, 0], [0.03, 0.8])


def test_noise_by_hand() -> None:
    """L* 50.0 and 50.3, alike in a* and b*: squares of 0.15 twice over 3 degrees of freedom, sd 0.1225 a coordinate."""
    found = averaged(chart(("a", 0.5, 50), ("b", 0.5, 50.3), ("c", 0, 95)))
    assert found.noise_lab == pytest.approx(np.sqrt(2 * 0.15**2 / 3), rel=1e-6)
    assert found.noise_de00 == pytest.approx(0.3 / np.sqrt(2), rel=0.02)  # SL is 1 at L* 50


def test_the_odd_one_of_three() -> None:
    """It is named with how far off it is, and the mean is that of the others."""
    found = averaged(chart(("a", 0.5, 50), ("b", 0.5, 50.2), ("c", 0.5, 58), ("d", 0, 95)))
    (outlier,) = found.outliers
    assert (outlier.name, outlier.others, outlier.is_left_out) == ("c", 2, True)
    assert outlier.de00 == pytest.approx(7.5 * np.sqrt(1.5), rel=0.05)
    assert found.counts.tolist() == [2, 1]
    assert found.noise_lab == pytest.approx(np.sqrt(2 * 0.1**2 / 3), rel=0.01)


def test_two_that_differ() -> None:
    """Nobody knows which is wrong: both are named, and neither is left out."""
    pairs = [(f"{letter}{k}", k / 10, 95 - 7 * k + jitter) for k in range(10) for letter, jitter in (("a", 0.0), ("b", 0.1))]
    pairs[7] = ("b3", 0.3, 60.0)
    found = averaged(chart(*pairs))
    assert {(outlier.name, outlier.is_left_out) for outlier in found.outliers} == {("a3", False), ("b3", False)}
    assert found.counts.tolist() == [2] * 10


def test_small_differences_are_no_outliers() -> None:
    """ΔE00 0.3 among readings that else agree to 0.001."""
    rows = [(f"{i}{k}", k / 10, 90 - 7 * k + 0.001 * i) for k in range(10) for i in range(3)]
    rows[4] = ("11", 0.1, 83.3)
    assert averaged(chart(*rows)).outliers == ()
