"""The look of a print: Demichel, Yule-Nielsen and the garment, against a plain computation."""

from dataclasses import dataclass

import numpy as np
import pytest

from colour.synthetic import SyntheticPrinter
from filmhand.colour.appearance import appearance
from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import D50_WHITE, lab_from_xyz
from filmhand.colour.nominal import nominal_model
from filmhand.colour.opacity import NOMINAL, Opacity
from filmhand.colour.srgb import srgb_from_xyz, xyz_from_srgb, xyz_of_hex

MODEL = nominal_model(("C", "M", "Y", "K"))
CHART_GROUND = (NOMINAL.chart_ground / NOMINAL.film_white * D50_WHITE)[None]
"""What the charts lie on, relative to film white: on it one layer of white is film white."""


@dataclass(frozen=True)
class Seen:
    """The synthetic printer's own colours as an ink model; nothing of it is asked for but colour."""

    inks: tuple[str, ...]
    yule_nielsen: float = 2.0
    is_nominal: bool = False
    opacity: Opacity = NOMINAL

    @property
    def digest(self) -> str:
        """Of the inks alone: there is one such printer."""
        return f"synthetic {self.inks}"

    def xyz(self, inks: np.ndarray) -> np.ndarray:
        """Of ink amounts (..., k)."""
        return SyntheticPrinter(self.inks).xyz(inks.reshape(-1, len(self.inks))).reshape(*inks.shape[:-1], 3)


def film_on(inks: np.ndarray, model: Seen) -> tuple[np.ndarray, np.ndarray]:
    """CIELAB (m, 3) of ink mixes (k, m) on full film, as the preview shows them and as the model's own colours in 8 bits are."""
    seen = appearance(np.ones((1, inks.shape[1]), np.float32), inks[:, None], garments=CHART_GROUND, model=model)
    told = srgb_from_xyz(model.xyz(inks.T.astype(np.float64)))
    return lab_from_xyz(xyz_from_srgb(seen[0])), lab_from_xyz(xyz_from_srgb(told))


def test_no_film_is_the_garment_and_bare_film_is_white() -> None:
    """Coverage 0 shows the garment exactly; full coverage without ink shows 255 on the ground of the charts."""
    coverage = np.array([[0.0, 1.0]], np.float32)
    garments = np.stack([xyz_of_hex("#7a2033"), CHART_GROUND[0]])
    lies_on = np.array([[0, 1]], np.uint8)
    seen = appearance(coverage, np.zeros((4, 1, 2), np.float32), garments=garments, model=MODEL, lies_on=lies_on)
    assert seen.tolist() == [[[0x7A, 0x20, 0x33], [255, 255, 255]]]


@pytest.mark.parametrize("garment", ["#1b1b1d", "#c4152b", "#d8c8a0"])
def test_against_the_formula(garment: str) -> None:
    """The formula evaluated plainly with the ink model itself: ΔE00 mean below 0.3, greatest below 1.5, 8-bit steps included."""
    rng = np.random.default_rng(4)
    coverage = rng.random((20, 30), np.float32)
    inks = rng.random((4, 20, 30), np.float32) ** 2
    seen = appearance(coverage, inks, garments=xyz_of_hex(garment)[None], model=MODEL)
    n = MODEL.yule_nielsen
    left = NOMINAL.share(1.0, garment=xyz_of_hex(garment))
    film = (MODEL.xyz(np.moveaxis(inks, 0, -1).astype(np.float64)) * left) ** (1 / n)
    plain = (coverage[..., None] * film + (1 - coverage[..., None]) * xyz_of_hex(garment) ** (1 / n)) ** n
    expected = srgb_from_xyz(plain)
    miss = difference(lab_from_xyz(xyz_from_srgb(seen)), lab_from_xyz(xyz_from_srgb(expected)))
    assert miss.mean() < 0.3
    assert miss.max() < 1.5


def test_dots_that_gain() -> None:
    """Six inks of the synthetic printer, whose dots spread, in mixes of at most four: ΔE00 mean below 0.35 against the printer's
    own colours, with 8-bit steps on both sides."""
    model, rng = Seen(tuple("CMYKOG")), np.random.default_rng(6)
    inks = rng.random((6, 600), np.float32)
    inks[np.argsort(rng.random(inks.shape), axis=0) >= 4] = 0
    inks *= np.minimum(1, 3 / inks.sum(axis=0))
    miss = difference(*film_on(inks, model))
    assert miss.mean() < 0.35
    assert np.percentile(miss, 95) < 0.8


def test_wedges_are_met() -> None:
    """Along each of these inks alone no preview is off by more than rounding to 8 bits can explain, ΔE00 1.2 where it is dark."""
    model = Seen(tuple("CMYKOG"))
    wedges = np.concatenate(
        [np.eye(6, dtype=np.float32)[:, [i]] * np.linspace(0, 1, 61, dtype=np.float32) for i in range(6)], axis=1
    )
    miss = difference(*film_on(wedges, model))
    assert miss.mean() < 0.1
    assert miss.max() < 1.2
