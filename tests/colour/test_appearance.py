"""The look of a print: Demichel, Yule-Nielsen and the garment, against a plain computation."""

import numpy as np
import pytest

from filmhand.colour.appearance import appearance
from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import lab_from_xyz
from filmhand.colour.nominal import nominal_model
from filmhand.colour.srgb import srgb_from_xyz, xyz_from_srgb, xyz_of_hex

MODEL = nominal_model(("C", "M", "Y", "K"))


def test_no_film_is_the_garment_and_bare_film_is_white() -> None:
    """Coverage 0 shows the garment exactly; full coverage without ink shows 255."""
    coverage = np.array([[0.0, 1.0]], np.float32)
    seen = appearance(coverage, np.zeros((4, 1, 2), np.float32), garment=xyz_of_hex("#7a2033"), model=MODEL)
    assert seen.tolist() == [[[0x7A, 0x20, 0x33], [255, 255, 255]]]


@pytest.mark.parametrize("garment", ["#1b1b1d", "#c8102e", "#d8c8a0"])
def test_against_the_formula(garment: str) -> None:
    """The formula evaluated plainly with the ink model itself: ΔE00 mean below 0.3, greatest below 1.5, 8-bit steps included."""
    rng = np.random.default_rng(4)
    coverage = rng.random((20, 30), np.float32)
    inks = rng.random((4, 20, 30), np.float32) ** 2
    seen = appearance(coverage, inks, garment=xyz_of_hex(garment), model=MODEL)
    n = MODEL.yule_nielsen
    film = MODEL.xyz(np.moveaxis(inks, 0, -1).astype(np.float64)) ** (1 / n)
    plain = (coverage[..., None] * film + (1 - coverage[..., None]) * xyz_of_hex(garment) ** (1 / n)) ** n
    expected = srgb_from_xyz(plain)
    miss = difference(lab_from_xyz(xyz_from_srgb(seen)), lab_from_xyz(xyz_from_srgb(expected)))
    assert miss.mean() < 0.3
    assert miss.max() < 1.5
