"""White between film and garment: what it leaves of the film's colour, by formulae written out here, and how that is shown."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from filmhand.colour.appearance import White, appearance
from filmhand.colour.cielab import D50_WHITE
from filmhand.colour.nominal import nominal_model
from filmhand.colour.opacity import NOMINAL, Opacity
from filmhand.colour.srgb import srgb_from_xyz, xyz_of_hex

MODEL = nominal_model(tuple("CMYK"))
WALL = 0.8 * D50_WHITE
BLACK = np.zeros(3)
GARMENTS = ("#1b1b1d", "#c4152b", "#d8c8a0", "#ffffff", "#0b3d91")
NONE = np.zeros((4, 1, 1), np.float32)
FULL = np.ones((1, 1), np.float32)


def layer(ground: np.ndarray, infinite: np.ndarray, scatter: np.ndarray) -> np.ndarray:
    """Kubelka's hyperbolic form (1948), with the coth that the code under test does not take."""
    a, b = (1 / infinite + infinite) / 2, (1 / infinite - infinite) / 2
    coth = np.cosh(b * scatter) / np.sinh(b * scatter)
    return (1 - ground * (a - b * coth)) / (a - ground + b * coth)


def seen_on(garment: str, volume: float, inks: np.ndarray = NONE) -> np.ndarray:
    """sRGB (3,) of full film with so much white under it."""
    white = np.full((1, 1), volume, np.float32)
    return appearance(FULL, inks, garments=xyz_of_hex(garment)[None], model=MODEL, white=white)[0, 0].astype(int)


@pytest.mark.parametrize(
    ("infinite", "scatter", "contrast"),
    [(0.90, 1, 0.6027), (0.90, 2, 0.7835), (0.90, 4, 0.9089), (0.85, 2, 0.7911), (0.85, 3, 0.8746), (0.95, 2, 0.7791)],
)
def test_on_black_a_layer_leaves_the_contrast_ratio(infinite: float, scatter: float, contrast: float) -> None:
    """With charts on 80 % white, what a layer leaves of film white on black is its contrast ratio (ISO 6504-3); the values were
    worked out apart from this code, from the hyperbolic form."""
    opacity = Opacity(np.full(3, infinite), np.full(3, float(scatter)), WALL)
    assert opacity.share(1.0, garment=BLACK) == pytest.approx(contrast, abs=5e-5)


@pytest.mark.parametrize(("scatter", "contrast"), [(1, 3 / 5), (2, 7 / 9), (4, 9 / 10)])
def test_white_that_absorbs_nothing(scatter: int, contrast: float) -> None:
    """R∞ 1: the same ratio is a fraction of whole numbers, and two layers of SX 1 or 2 are one of SX 2 or 4."""
    opacity = Opacity(np.ones(3), np.full(3, float(scatter)), WALL)
    assert opacity.share(1.0, garment=BLACK) == pytest.approx(contrast, abs=1e-12)
    film_white = (scatter / 5 + 4 / 5) / (scatter / 5 + 1)
    assert opacity.share(2.0, garment=BLACK) == pytest.approx(2 * scatter / (2 * scatter + 1) / film_white, abs=1e-12)


@given(st.floats(0.01, 1), st.floats(0, 1.2), st.sampled_from([0.0, 0.4, 0.7, 1.0]), st.floats(0.05, 2))
def test_white_is_dots_and_then_layers(tone: float, red: float, closes_at: float, volume: float) -> None:
    """Up to where dots close they grow in area at one thickness (Yule-Nielsen), then in thickness (Kubelka-Munk)."""
    opacity = replace(NOMINAL, closes_at=closes_at)
    garment = np.array([tone, tone * red, tone * red]) * D50_WHITE
    thickness = max(volume, closes_at)
    full = layer(opacity.chart_ground / D50_WHITE, opacity.infinite, opacity.scatter)
    ground = garment / D50_WHITE * full
    solid = layer(ground, opacity.infinite, opacity.scatter * thickness)
    n, area = opacity.yule_nielsen, volume / thickness
    expected = ((1 - area) * ground ** (1 / n) + area * solid ** (1 / n)) ** n / full
    assert opacity.share(volume, garment=garment) == pytest.approx(expected, rel=1e-9)


def test_no_white_leaves_the_garment() -> None:
    """Film white over no white is the garment itself; over one layer on the charts' ground it is film white."""
    garment = xyz_of_hex("#c4152b")
    assert NOMINAL.share(0.0, garment=garment) == pytest.approx(garment / D50_WHITE, abs=1e-12)
    ground = NOMINAL.chart_ground / NOMINAL.film_white * D50_WHITE
    assert NOMINAL.share(1.0, garment=ground) == pytest.approx(np.ones(3), abs=1e-12)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32), st.sampled_from([0.0, 0.5, 0.7, 1.0]))
def test_the_picture_is_the_formula(seed: int, closes_at: float) -> None:
    """Any inks, coverage and white up to two layers, garments side by side: within 1/255 of the formula reckoned plainly."""
    rng = np.random.default_rng(seed)
    model = replace(MODEL, opacity=replace(NOMINAL, closes_at=closes_at), _reaches={})
    size = (40, 30)
    coverage, white = rng.random(size, np.float32), 2 * rng.random(size, np.float32)
    coverage[0], white[1], white[2] = 1, 0, 2
    inks = rng.random((4, *size), np.float32) ** 2
    garments = np.stack([xyz_of_hex(garment) for garment in GARMENTS])
    lies_on = rng.integers(0, len(GARMENTS), size).astype(np.uint8)
    seen = appearance(coverage, inks, garments=garments, model=model, white=white, lies_on=lies_on)
    left = np.empty((*size, 3))
    for place, garment in enumerate(garments):
        left[lies_on == place] = model.opacity.share(white[lies_on == place].astype(np.float64), garment=garment)
    n, a = model.yule_nielsen, coverage[..., None].astype(np.float64)
    film = (model.xyz(np.moveaxis(inks, 0, -1).astype(np.float64)) * left) ** (1 / n)
    plain = srgb_from_xyz(((1 - a) * garments[lies_on] ** (1 / n) + a * film) ** n)
    assert np.abs(seen.astype(int) - plain).max() <= 1


def test_white_under_part_of_the_film() -> None:
    """Film with white under 0.3 of it is, in the mixing space, 0.3 film on white and 0.7 film on bare garment, within 1/255."""
    rng = np.random.default_rng(3)
    inks, garment, n = rng.random((4, 1, 50), np.float32) ** 2, xyz_of_hex("#c4152b"), MODEL.yule_nielsen
    one = np.ones((1, 50), np.float32)
    white = White(volume=1.5 * one, share=np.float32(0.3) * one)
    seen = appearance(one, inks, garments=garment[None], model=MODEL, white=white)
    film = MODEL.xyz(np.moveaxis(inks, 0, -1).astype(np.float64))
    parts = [(film * NOMINAL.share(volume, garment=garment)) ** (1 / n) for volume in (0.0, 1.5)]
    assert np.abs(seen.astype(int) - srgb_from_xyz((0.7 * parts[0] + 0.3 * parts[1]) ** n)).max() <= 1


def test_more_white_is_lighter_on_black() -> None:
    """No channel of bare film falls as white grows; each step of a tenth up to a layer shows; two layers are lighter than one."""
    steps = np.array([seen_on("#1b1b1d", volume) for volume in np.linspace(0, 2, 21)])
    assert (np.diff(steps, axis=0) >= 0).all()
    assert (np.diff(steps[:11], axis=0) > 0).all()
    assert (steps[20] > steps[10]).all()
    assert tuple(steps[0]) == (0x1B, 0x1B, 0x1D)


def test_what_is_not_said_is_one_layer() -> None:
    """No white given is one full layer everywhere; no garment given is the first; white past two layers is two."""
    garments = np.stack([xyz_of_hex(garment) for garment in GARMENTS[:2]])
    inks = np.full((4, 1, 1), 0.3, np.float32)
    assert (appearance(FULL, inks, garments=garments, model=MODEL)[0, 0] == seen_on(GARMENTS[0], 1.0, inks)).all()
    assert (seen_on(GARMENTS[0], 3.0, inks) == seen_on(GARMENTS[0], 2.0, inks)).all()


def test_a_garment_that_is_not_there() -> None:
    """A place past the last garment is refused, before the kernel reads past its table."""
    lies_on = np.array([[1]], np.uint8)
    with pytest.raises(IndexError, match="garment 1 of 1"):
        appearance(FULL, NONE, garments=xyz_of_hex("#1b1b1d")[None], model=MODEL, lies_on=lies_on)
