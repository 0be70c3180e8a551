"""White's opacity: Kubelka and Munk's identities and worked numbers, and wedges printed by known whites."""

from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmhand.colour import kubelka_munk
from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import D50_WHITE, lab_from_xyz, xyz_from_lab
from filmhand.colour.measured.readings import Readings
from filmhand.colour.opacity import Opacity
from filmhand.colour.opacity_fit import fit_opacity
from filmhand.errors import SettingsError

WHITE_CARD = xyz_from_lab(np.array([92.0, 0.0, 1.0]))
BLACK_CARD = xyz_from_lab(np.array([16.0, 0.5, -1.0]))
STEPS = np.linspace(0, 1, 11)
ONES = np.ones(3)


@pytest.mark.parametrize(("ratio", "reflectance"), [(0.01, 0.868226), (0.1, 0.641742), (1, 0.267949)])
def test_infinite_layer(ratio: float, reflectance: float) -> None:
    """R∞ from K/S; of 1 it is 2 - √3 (worked out apart from this code, from the formula)."""
    assert kubelka_munk.infinite(np.array(ratio)) == pytest.approx(reflectance, abs=5e-7)


# Over black, over 0.80 and the contrast ratio: worked out apart from this code, from the hyperbolic form, to the digits shown.
@pytest.mark.parametrize(
    ("infinite", "scatter", "on_black", "on_white", "contrast"),
    [
        (0.90, 1, 0.49769, 0.82573, 0.6027),
        (0.90, 2, 0.66096, 0.84364, 0.7835),
        (0.90, 4, 0.78725, 0.86616, 0.9089),
        (0.85, 2, 0.65322, 0.82575, 0.7911),
        (0.85, 3, 0.72844, 0.83286, 0.8746),
        (0.95, 2, 0.66530, 0.85390, 0.7791),
    ],
)
def test_layers(infinite: float, scatter: float, on_black: float, on_white: float, contrast: float) -> None:
    """A layer over black and over 80 % white, and its contrast ratio (ISO 6504-3); both seen give the layer back."""
    grounds = (np.array(0.0), np.array(0.8))
    black, white = (kubelka_munk.layer(ground, infinite=infinite, scatter=scatter) for ground in grounds)
    assert black == pytest.approx(on_black, abs=5e-6)
    assert white == pytest.approx(on_white, abs=5e-6)
    opacity = Opacity(infinite * ONES, scatter * ONES, WHITE_CARD)
    assert opacity.contrast_ratio(1.0, black=0.0, white=0.8) == pytest.approx(contrast, abs=5e-5)
    found_infinite, found_scatter = kubelka_munk.layer_seen_on(grounds, (black, white))
    assert found_infinite == pytest.approx(infinite, abs=1e-12)
    assert found_scatter == pytest.approx(scatter, abs=1e-9)


@pytest.mark.parametrize("scatter", [1, 2, 4])
def test_without_absorption(scatter: int) -> None:
    """R∞ 1 makes R a fraction of whole numbers: SX/(SX + 1) over black, (SX/5 + 4/5)/(SX/5 + 1) over 80 % white."""
    over_black = kubelka_munk.layer(np.array(0.0), infinite=1.0, scatter=scatter)
    over_white = kubelka_munk.layer(np.array(0.8), infinite=1.0, scatter=scatter)
    assert over_black == pytest.approx(float(Fraction(scatter, scatter + 1)), abs=1e-15)
    assert over_white == pytest.approx(float((Fraction(scatter, 5) + Fraction(4, 5)) / (Fraction(scatter, 5) + 1)), abs=1e-15)


@pytest.mark.parametrize(
    ("infinite", "ratio", "scatter"),
    [
        (0.85, 0.98, 7.667),
        (0.90, 0.98, 9.143),
        (0.95, 0.98, 10.809),
        (0.85, 0.95, 5.172),
        (0.90, 0.95, 5.803),
        (0.95, 0.95, 6.345),
    ],
)
def test_amount_for_a_contrast_ratio(infinite: float, ratio: float, scatter: float) -> None:
    """SX that hides black and 80 % white to a contrast ratio (worked out apart): as layers of SX 1 each, and as one at most."""
    assert Opacity(infinite * ONES, ONES, WHITE_CARD).amount_for_contrast(ratio) == pytest.approx(scatter, abs=5e-4)
    layer = Opacity(infinite * ONES, 2 * scatter * ONES, WHITE_CARD, closes_at=0.0)
    assert layer.amount_for_contrast(ratio) == pytest.approx(0.5, abs=5e-4)


def test_no_white_hides_as_much_as_asked() -> None:
    """A white that scatters hardly at all never gets there."""
    assert Opacity(0.9 * ONES, 0.1 * ONES, WHITE_CARD).amount_for_contrast(0.98) == np.inf


@given(st.floats(0, 1), st.floats(0.05, 0.999), st.floats(0, 8), st.floats(0, 8))
def test_layers_add_up(ground: float, infinite: float, first: float, second: float) -> None:
    """A layer over a layer is one of both SX; none is the ground itself; the layer over R∞ is R∞ (Kubelka 1948)."""
    lower = kubelka_munk.layer(np.array(ground), infinite=infinite, scatter=first)
    both = kubelka_munk.layer(lower, infinite=infinite, scatter=second)
    assert both == pytest.approx(kubelka_munk.layer(np.array(ground), infinite=infinite, scatter=first + second), abs=1e-9)
    assert kubelka_munk.layer(np.array(ground), infinite=infinite, scatter=0) == ground
    assert kubelka_munk.layer(np.array(infinite), infinite=infinite, scatter=first) == pytest.approx(infinite, abs=1e-12)


def test_grounds_need_not_be_black_and_white() -> None:
    """The layer comes back from any two grounds, and noise past what is possible stays within bounds."""
    grounds = (np.array(0.03), np.array(0.71))
    seen = tuple(kubelka_munk.layer(ground, infinite=0.88, scatter=3.3) for ground in grounds)
    infinite, scatter = kubelka_munk.layer_seen_on(grounds, (seen[0], seen[1]))
    assert (float(infinite), float(scatter)) == pytest.approx((0.88, 3.3), abs=1e-9)
    infinite, scatter = kubelka_munk.layer_seen_on(grounds, (np.array(0.9), np.array(0.899)))
    assert 0.8 < infinite <= 1
    assert scatter == kubelka_munk.MOST_SCATTER


def white_ink(closes_at: float, n: float = 1.0) -> Opacity:
    """A white with unequal channels, and more of it laid at mid tones than was sent."""
    volumes = STEPS + 0.3 * STEPS * (1 - STEPS)
    return Opacity(
        np.array([0.90, 0.91, 0.88]), np.array([5.0, 5.2, 5.6]), WHITE_CARD, closes_at, n, tuple(STEPS), tuple(volumes)
    )


def wedge(truth: Opacity, ground: np.ndarray, *, noise: float, seed: int) -> Readings:
    """The wedge as measured, with noise of this standard deviation in each of L*, a*, b*."""
    lab = lab_from_xyz(np.array([truth.white(amount, garment=ground) for amount in STEPS]))
    seen = xyz_from_lab(lab + np.random.default_rng(seed).normal(0, noise, lab.shape))
    return Readings(("W",), tuple(f"W{100 * amount:.0f}" for amount in STEPS), STEPS[:, None], seen)


def fitted(truth: Opacity, noise: float, seed: int = 1):
    """The fit of both wedges."""
    return fit_opacity(
        black=wedge(truth, BLACK_CARD, noise=noise, seed=seed), white=wedge(truth, WHITE_CARD, noise=noise, seed=seed + 1)
    )


@pytest.mark.parametrize(("closes_at", "n"), [(0.0, 1.0), (0.5, 1.6), (1.0, 1.0), (1.0, 2.0)])
def test_the_wedge_tells_dots_from_layers(closes_at: float, n: float) -> None:
    """White laid as layer, as dots, or as dots that close up at half: told, and explained to ΔE00 0.1 where there is no noise."""
    found = fitted(white_ink(closes_at, n), noise=0.0)
    assert found.opacity.closes_at == pytest.approx(closes_at, abs=0.051)
    assert found.miss < 0.1
    wrong = found.miss_as_dots if closes_at < 0.5 else found.miss_as_layer
    assert wrong > 5 * found.miss


@pytest.mark.parametrize(("closes_at", "bar"), [(0.0, 0.5), (1.0, 1.2)])
def test_white_on_a_garment_not_measured(closes_at: float, bar: float) -> None:
    """From wedges with noise of 0.3, white of every step on a red garment: ΔE00 in the mean of four measurements.

    Dots are told less exactly: how far light spreads between them hardly shows on black and on white.
    """
    truth, red = white_ink(closes_at, 1.4), xyz_from_lab(np.array([38.0, 52.0, 30.0]))
    steps = np.linspace(0, 1, 21)
    true = lab_from_xyz(np.array([truth.white(a, garment=red) for a in steps]))
    fits = [fitted(truth, noise=0.3, seed=seed) for seed in (1, 3, 5, 7)]
    seen = lab_from_xyz(np.array([[fit.opacity.white(a, garment=red) for a in steps] for fit in fits]))
    assert difference(seen, true).mean() < bar
    assert all(fit.opacity.closes_at == closes_at for fit in fits)


def test_colour_over_thin_white() -> None:
    """Full density over the chart's ground is the film's colour, bare film the white itself, none a filter on the garment."""
    ink = white_ink(0.0)
    film, garment = np.array([[0.3, 0.2, 0.1], [0.05, 0.04, 0.03]]), np.array([0.02, 0.02, 0.03])
    relative = WHITE_CARD / ink.film_white * D50_WHITE
    assert ink.over_garment(film, relative, density=1.0) == pytest.approx(film, abs=1e-12)
    white = ink.white(0.4, garment=garment / D50_WHITE * ink.film_white) / ink.film_white * D50_WHITE
    assert ink.over_garment(D50_WHITE, garment, density=0.4) == pytest.approx(white, abs=1e-12)
    assert ink.over_garment(film, garment, density=0.0) == pytest.approx(film * garment / D50_WHITE, abs=1e-12)


def test_thicker_white_shines_more() -> None:
    """On black every further step is lighter, and never lighter than on white."""
    ink = white_ink(0.5, 1.5)
    on_black, on_white = ([ink.white(a, garment=card)[1] for a in np.linspace(0, 2, 41)] for card in (BLACK_CARD, WHITE_CARD))
    assert (np.diff(on_black) > 0).all()
    assert (np.array(on_black) < np.array(on_white)).all()


def test_wedges_that_cannot_be_used() -> None:
    """No white among the inks, no full white, grounds alike: each is refused, and it is said what to measure."""
    good = wedge(white_ink(0.0), WHITE_CARD, noise=0, seed=1)
    dark = wedge(white_ink(0.0), BLACK_CARD, noise=0, seed=1)
    for black, white in [
        (Readings(("K",), good.names, good.amounts, good.xyz), good),
        (Readings(("W",), good.names[:-1], good.amounts[:-1], good.xyz[:-1]), good),
        (good, dark),
    ]:
        with pytest.raises(SettingsError, match="Measure the white wedge"):
            fit_opacity(black=black, white=white)
