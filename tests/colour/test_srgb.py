"""sRGB against the standard's numbers and against LittleCMS."""

import numpy as np
import pytest

from filmhand.colour.adaptation import bradford
from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import D50_WHITE, lab_from_xyz
from filmhand.colour.srgb import decode, encode, srgb_from_xyz, xyz_from_srgb, xyz_of_hex


@pytest.mark.parametrize(
    ("value", "light"),
    [
        # colour-science 0.4.7; 10 lies on the straight leg, 11 on the power's.
        (1, 0.000303527),
        (10, 0.003035270),
        (11, 0.003346536),
        (100, 0.127437680),
        (188, 0.502886458),
        (255, 1.0),
    ],
)
def test_the_curve(value: int, light: float) -> None:
    """IEC 61966-2-1's transfer curve, both ways."""
    assert decode(np.array(value / 255)) == pytest.approx(light, abs=1e-9)
    assert encode(np.array(light)) * 255 == pytest.approx(value, abs=2e-3)  # the standard's two knees do not quite meet


@pytest.mark.parametrize(
    ("rgb", "lab"),
    [
        # LittleCMS 2.14: transicc -t1 -i'*sRGB' -o'*Lab'
        ((255, 255, 255), (100, 0, 0)),
        ((255, 0, 0), (54.2896, 80.8144, 69.8897)),
        ((0, 255, 0), (87.8194, -79.2749, 80.9927)),
        ((0, 0, 255), (29.5659, 68.2862, -112.0329)),
        ((128, 128, 128), (53.5850, 0, 0)),
        ((255, 128, 0), (67.8164, 45.4947, 74.8388)),
        ((194, 150, 130), (65.9198, 14.9633, 17.2658)),
    ],
)
def test_known_colours(rgb: tuple[int, ...], lab: tuple[float, ...]) -> None:
    """sRGB to CIELAB over D50 as LittleCMS has it, within ΔE00 0.02."""
    found = lab_from_xyz(xyz_from_srgb(np.array(rgb, np.uint8)))
    assert difference(found, np.array(lab, dtype=float)) <= 0.02


def test_white_and_grays_are_exact() -> None:
    """White is the connection space's white; grays have no colour."""
    grays = xyz_from_srgb(np.repeat(np.arange(256, dtype=np.uint8)[:, None], 3, axis=1))
    assert grays[255] == pytest.approx(D50_WHITE, abs=1e-12)
    assert np.abs(lab_from_xyz(grays)[:, 1:]).max() < 1e-9


def test_there_and_back() -> None:
    """Every value comes back."""
    rgb = np.random.default_rng(3).integers(0, 256, (5000, 3), np.uint8)
    assert np.array_equal(srgb_from_xyz(xyz_from_srgb(rgb)), rgb)


def test_a_written_colour() -> None:
    """ "#rrggbb" is its three values."""
    assert xyz_of_hex("#1b1b1d") == pytest.approx(xyz_from_srgb(np.array([0x1B, 0x1B, 0x1D], np.uint8)))


def test_bradford() -> None:
    """The matrix from D65 to D50 that every table prints (worked out with colour-science 0.4.7)."""
    matrix = bradford(np.array([0.95047, 1, 1.08883]), to=np.array([0.96422, 1, 0.82521]))
    expected = [[1.04781124, 0.0228866, -0.05012698], [0.0295424, 0.9904844, -0.0170491], [-0.00923449, 0.01504362, 0.75213164]]
    assert matrix == pytest.approx(np.array(expected), abs=1e-7)
