"""Reflectances to XYZ."""

import numpy as np
import pytest
from numpy.typing import NDArray

from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import D50_WHITE, lab_from_xyz
from filmhand.colour.measured import standard_observer as observer
from filmhand.colour.measured.readings import Spectra
from filmhand.colour.measured.spectra import even_spectra, xyz_of_spectra
from filmhand.colour.measured.unusable import UnusableChartError

Floats = NDArray[np.float64]


def invented(shape: str, nm: Floats) -> Floats:
    """Smooth spectra like those of a red, a green and a cyan print, and of a brown paper."""
    return {
        "edge": 0.05 + 0.8 / (1 + np.exp(-(nm - 580) / 12)),
        "peak": 0.1 + 0.6 * np.exp(-(((nm - 520) / 30) ** 2)),
        "trough": 0.85 - 0.75 * np.exp(-(((nm - 640) / 45) ** 2)),
        "slope": 0.2 + 0.5 * (nm - 380) / 400,
    }[shape]


# Made with colour-science 0.4.7: sd_to_XYZ of these spectra, "CIE 1931 2 Degree Standard Observer", "D50", method "ASTM E308".
@pytest.mark.parametrize(
    ("shape", "first", "last", "step", "expected"),
    [
        ("edge", 380, 730, 10, (0.48643, 0.31556, 0.04187)),
        ("edge", 400, 700, 10, (0.48643, 0.31556, 0.04187)),
        ("edge", 400, 700, 20, (0.48624, 0.31570, 0.04185)),
        ("edge", 380, 730, 5, (0.48642, 0.31553, 0.04187)),
        ("peak", 380, 730, 10, (0.14133, 0.29672, 0.13009)),
        ("peak", 400, 700, 10, (0.14133, 0.29672, 0.13009)),
        ("peak", 400, 700, 20, (0.14156, 0.29663, 0.13026)),
        ("peak", 380, 730, 5, (0.14131, 0.29674, 0.13009)),
        ("trough", 380, 730, 10, (0.54507, 0.70666, 0.70120)),
        ("trough", 400, 700, 10, (0.54499, 0.70663, 0.70120)),
        ("trough", 400, 700, 20, (0.54484, 0.70648, 0.70120)),
        ("trough", 380, 730, 5, (0.54507, 0.70668, 0.70127)),
        ("slope", 380, 730, 10, (0.42942, 0.42552, 0.24509)),
        ("slope", 400, 700, 10, (0.42941, 0.42551, 0.24511)),
        ("slope", 400, 700, 20, (0.42941, 0.42551, 0.24511)),
        ("slope", 380, 730, 5, (0.42941, 0.42552, 0.24512)),
    ],
)
def test_as_another_library(shape: str, first: int, last: int, step: int, expected: tuple[float, float, float]) -> None:
    """The method of ASTM E308 for the steps and ranges that instruments have, within ΔE00 0.02."""
    nm = np.arange(first, last + 1, step, dtype=np.float64)
    found = xyz_of_spectra(Spectra(nm, invented(shape, nm)[None]))
    assert difference(lab_from_xyz(found), lab_from_xyz(np.array([expected]))).max() < 0.02


def test_white_of_the_tables() -> None:
    """The perfect diffuser by the tables alone is the D50 white of ASTM E308 (96.422, 100, 82.521; from memory)."""
    bars = np.stack([observer.X_BAR, observer.Y_BAR, observer.Z_BAR], axis=1)
    white = (observer.D50[:, None] * bars).sum(axis=0) / (observer.D50 * observer.Y_BAR).sum()
    assert np.abs(white - [0.96422, 1, 0.82521]).max() < 1e-4


@pytest.mark.parametrize("step", [5, 10, 20])
def test_perfect_diffuser_is_the_white_of_the_connection_space(step: int) -> None:
    """Reflectance 1 everywhere is X 0.9642, Y 1, Z 0.8249 (ICC.1:2010 section 7.2.16), a gray of 18 % is 0.18 of it."""
    nm = np.arange(380, 731, step, dtype=np.float64)
    found = xyz_of_spectra(Spectra(nm, np.stack([np.ones_like(nm), np.full_like(nm, 0.18)])))
    assert np.abs(found - np.array([[1], [0.18]]) * D50_WHITE).max() < 1e-12


def test_order_and_percent() -> None:
    """Wavelengths come in any order, light as percent or as fractions."""
    nm = np.arange(400, 701, 10, dtype=np.float64)
    values = np.stack([invented("edge", nm), invented("peak", nm)])
    turned = even_spectra(nm[::-1], 100 * values[:, ::-1])
    assert np.allclose(turned.reflectances, values, atol=1e-12)
    assert np.array_equal(turned.wavelengths, nm)


@pytest.mark.parametrize(
    ("wavelengths", "words"),
    [
        ([400, 410, 420, 440, *range(450, 701, 10)], "evenly"),
        (range(400, 701, 50), "evenly"),
        (range(420, 701, 10), "420 to 700"),
        (range(380, 671, 10), "380 to 670"),
        ([400, 550, 700], "evenly"),
    ],
)
def test_wavelengths_that_do_not_serve(wavelengths: list[int], words: str) -> None:
    """Uneven, too far apart, or without an end of what the eye sees."""
    nm = np.array(list(wavelengths), dtype=np.float64)
    with pytest.raises(UnusableChartError, match=words):
        even_spectra(nm, np.full((2, len(nm)), 0.5))


def test_what_need_not_be_measured() -> None:
    """Less than 0.7 % of any of X, Y, Z comes from below 410 nm or above 680 nm, by the tables."""
    weight = observer.D50[:, None] * np.stack([observer.X_BAR, observer.Y_BAR, observer.Z_BAR], axis=1)
    share = weight / weight.sum(axis=0)
    assert share[observer.WAVELENGTHS < 410].sum(axis=0).max() < 0.007
    assert share[observer.WAVELENGTHS > 680].sum(axis=0).max() < 0.007
    nm = np.arange(410.0, 681, 10)
    assert len(even_spectra(nm, np.full((1, len(nm)), 0.5)).wavelengths) == 28
