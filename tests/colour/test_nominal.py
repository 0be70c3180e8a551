"""The nominal ink model: an invented stand-in that still behaves like inks."""

import numpy as np
import pytest

from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import D50_WHITE, lab_from_xyz
from filmhand.colour.nominal import nominal_model
from filmhand.colour.srgb import xyz_from_srgb
from filmhand.rules import ColourRules


@pytest.mark.parametrize("colours", ["CMY", "CMYK", "KCMY", "CMYKRGBO"])
def test_bare_film_is_white_and_ink_darkens(colours: str) -> None:
    """No ink is film white; each ink laid over any others lowers the luminance."""
    model = nominal_model(tuple(colours))
    assert model.is_nominal
    assert model.inks == tuple(colours)
    overprints = model.xyz(np.indices([2] * len(colours)).reshape(len(colours), -1).T.astype(np.float64))
    assert overprints[0] == pytest.approx(D50_WHITE)
    luminance = overprints[:, 1].reshape([2] * len(colours))
    for axis in range(len(colours)):
        assert (np.diff(luminance, axis=axis) < 0).all()


def test_print_order_is_only_an_order() -> None:
    """The same inks in another order print the same colours."""
    inks = np.random.default_rng(6).random((50, 4))
    plain, turned = nominal_model(("C", "M", "Y", "K")), nominal_model(("K", "C", "M", "Y"))
    assert turned.xyz(inks[:, [3, 0, 1, 2]]) == pytest.approx(plain.xyz(inks))
    assert plain.digest != turned.digest


def test_further_inks_widen_the_gamut() -> None:
    """With red, green, blue and orange no printable colour is missed, and strong ones are missed by less than without."""
    strong = xyz_from_srgb(np.array([[255, 60, 0], [230, 20, 20], [0, 170, 60], [40, 30, 160], [255, 130, 0]], np.uint8))
    colours = np.concatenate([strong, np.random.default_rng(7).random((200, 3)) * D50_WHITE])
    misses = []
    for inks in ("CMYK", "CMYKRGBO"):
        model = nominal_model(tuple(inks))
        printed = model.xyz(model.exact_inks_for(colours, ColourRules()))
        misses.append(difference(lab_from_xyz(printed), lab_from_xyz(colours)))
    assert (misses[1] <= np.maximum(misses[0], 0.1))[misses[0] < 5].all()
    assert (misses[1][:5] < misses[0][:5] - 1).all()


def test_without_black_ink() -> None:
    """Three inks print grays as grays."""
    model = nominal_model(("C", "M", "Y"))
    grays = np.linspace(0.1, 1, 12)[:, None] * D50_WHITE
    lab = lab_from_xyz(model.xyz(model.exact_inks_for(grays, ColourRules(ink_limit=300))))
    assert np.abs(lab[:, 1:]).max() < 0.2
