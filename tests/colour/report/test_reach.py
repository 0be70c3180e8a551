"""How much of sRGB a gamut covers, against colours drawn at random in CIELAB and asked one by one, by scikit-image."""

import numpy as np
import pytest
from skimage.color import lab2xyz

from filmhand.colour.cielab import lab_from_xyz
from filmhand.colour.gamut_boundary import enclosing
from filmhand.colour.gamut_surface import surface
from filmhand.colour.report.reach import share_of, srgb_in_lab
from filmhand.colour.srgb import FROM_XYZ

DRAWN = 200_000


def _in_srgb(lab: np.ndarray) -> np.ndarray:
    """Whether colours are in sRGB: the white of scikit-image's D50 is CIE's, so CIELAB is put on it."""
    is_colour = (lab[:, 0] + 16) / 116 > lab[:, 2] / 200  # else Z would be below 0
    lab = np.where(is_colour[:, None], lab, 0)
    relative = lab2xyz(lab, illuminant="D50", observer="2") / lab2xyz(np.array([[100.0, 0, 0]]), illuminant="D50", observer="2")
    rgb = (relative * [0.9642, 1, 0.8249]) @ FROM_XYZ.T
    return np.asarray(is_colour & ((rgb >= 0) & (rgb <= 1)).all(axis=1))


def test_the_volume_of_srgb() -> None:
    """Within 2 % of what random colours say."""
    rng = np.random.default_rng(1)
    low, high = np.array([0, -90, -120]), np.array([100, 105, 100])
    share = _in_srgb(rng.uniform(low, high, (DRAWN, 3))).mean()
    assert srgb_in_lab().volume == pytest.approx(share * np.prod(high - low), rel=0.02)


def test_srgb_covers_itself_and_a_smaller_gamut_only_its_share() -> None:
    """A gamut of all colours of half sRGB's distance from middle gray has an eighth of its volume, and covers an eighth."""
    whole = srgb_in_lab()
    assert share_of(whole, covered_by=whole) == 1
    rgb, triangles = surface([(0, 1, 2)], inks=3, limit=3.0)
    xyz = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4) @ np.linalg.inv(FROM_XYZ).T
    middle = np.array([50.0, 0, 0])
    small = enclosing(middle + (lab_from_xyz(xyz) - middle) / 2, triangles)
    assert small.volume == pytest.approx(whole.volume / 8, rel=0.01)
    assert share_of(whole, covered_by=small) == pytest.approx(1 / 8, abs=0.02)
    assert share_of(small, covered_by=whole) == pytest.approx(1, abs=0.02)
