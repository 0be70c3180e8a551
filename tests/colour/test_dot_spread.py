"""Dots as large as their wedge says: areas against published formulae and scipy's distances, screened tones against wedges."""

from dataclasses import dataclass, replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from colour.synthetic import SyntheticColours
from filmhand.colour.cielab import D50_WHITE
from filmhand.colour.dot_spread import drawn, reach, spread_radius
from filmhand.colour.nominal import nominal_model
from filmhand.colour.opacity import NOMINAL, Opacity
from filmhand.halftone.blue_noise import void_and_cluster

NOMINAL_INKS = nominal_model(tuple("CMYK"))
SIDE = 64
RANKS = void_and_cluster(SIDE, first_dots=SIDE * SIDE // 10, seed=1993)
TONES = np.array([0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95])


@dataclass(frozen=True)
class Wedge:
    """An ink model of one ink: its density relative to the film at no, a quarter and full ink, the same in X, Y and Z."""

    densities: tuple[float, float, float]
    yule_nielsen: float
    inks: tuple[str, ...] = ("K",)
    opacity: Opacity = NOMINAL

    def xyz(self, inks: np.ndarray) -> np.ndarray:
        """Of ink amounts (..., 1), which must be those three."""
        return 10 ** -np.interp(inks, [0, 0.25, 1], self.densities) * D50_WHITE


def single(radius: float, *, level: int = 255, zoom: int = 16) -> np.ndarray:
    """One dot, with room about it."""
    levels = np.zeros((7, 7), np.uint8)
    levels[3, 3] = level
    return drawn(levels, radius, zoom=zoom)


def tone(area: float, radius: float, *, zoom: int = 8) -> float:
    """Mean area under dots of a flat blue-noise tone, on a torus."""
    levels = np.where(area * SIDE * SIDE > RANKS, 255, 0).astype(np.uint8)
    rim = reach(radius)
    picture = drawn(np.pad(levels, rim, mode="wrap"), radius, zoom=zoom)
    inner = slice(rim * zoom, (rim + SIDE) * zoom)
    return float(picture[inner, inner].mean(dtype=float))


# Yule and Nielsen's effective areas of a patch of density 0.30 whose solid has 1.50, worked out apart from this code.
@pytest.mark.parametrize(("n", "area"), [(1.0, 0.515102), (1.7, 0.384303), (2.0, 0.355223)])
def test_a_dot_covers_what_its_wedge_shows(n: float, area: float) -> None:
    """Asked for a quarter, an ink that covers so much has dots of four times that, in cells, within 1 %."""
    radius = spread_radius(Wedge((0.0, 0.30, 1.50), n))["K"]
    assert single(radius).sum() / 16**2 == pytest.approx(4 * area, rel=0.01)


@pytest.mark.parametrize("densities", [(0.0, 0.05, 1.5), (0.0, 0.0, 0.0)])
def test_ink_that_covers_less_than_asked(densities: tuple[float, float, float]) -> None:
    """Its dots, and those of an ink that cannot be seen, are their cells."""
    assert spread_radius(Wedge(densities, 1.0))["K"] == 0


def test_nominal_dots_do_not_spread() -> None:
    """Inks that cover what they are asked to have square dots without any gain: every tone is drawn at its area exactly."""
    radii = spread_radius(NOMINAL_INKS)
    assert all(radii[ink] == pytest.approx(0, abs=1e-9) for ink in "CMYK")
    for area in TONES:
        assert tone(area, radii["K"]) == pytest.approx(np.ceil(area * SIDE * SIDE) / SIDE**2, abs=1e-9)


@pytest.mark.parametrize("radius", [0.75, 0.9, 1.13])
def test_discs_against_distances(radius: float) -> None:
    """From √½ on dots are discs: each pixel's share of points nearer to a dot's middle than the radius (scipy's distances)."""
    zoom, fine = 9, 9 * 7
    levels = np.where(np.random.default_rng(5).random((15, 20)) < 0.15, 255, 0).astype(np.uint8)
    middles = np.ones((15 * fine, 20 * fine), bool)
    middles[fine // 2 :: fine, fine // 2 :: fine] = levels == 0
    near = ndimage.distance_transform_edt(middles) < radius * fine
    expected = near.reshape(15 * zoom, 7, 20 * zoom, 7).mean(axis=(1, 3))
    picture = drawn(levels, radius, zoom=zoom)
    assert np.abs(picture - expected).max() < 0.15
    assert picture.mean(dtype=float) == pytest.approx(expected.mean(), rel=0.005)
    assert single(radius).sum() / 16**2 == pytest.approx(np.pi * radius**2, rel=0.005)


@settings(max_examples=30, deadline=None)
@given(st.floats(0, 1.2), st.integers(1, 9))
def test_full_tone_leaves_no_gap(radius: float, zoom: int) -> None:
    """Whatever the radius and the zoom, a solid is solid up to its very edge."""
    assert (drawn(np.full((4, 5), 255, np.uint8), radius, zoom=zoom) == 1).all()


@settings(max_examples=30, deadline=None)
@given(st.floats(0, 1.2), st.floats(0, 1.2))
def test_more_spread_covers_more(one: float, other: float) -> None:
    """A larger radius never covers less, and no dot covers less than nearly its cell; none touches a cell beyond its reach."""
    small, large = sorted((one, other))
    assert single(large).sum() >= single(small).sum() - 1
    assert single(small).sum() >= 16**2
    rim = reach(large)
    touched = single(large).reshape(7, 16, 7, 16).max(axis=(1, 3)) > 0
    assert not touched[np.maximum(*np.abs(np.mgrid[-3:4, -3:4])) > rim].any()


@pytest.mark.parametrize("radius", [0.0, 0.5, 0.9])
def test_smaller_drops_cover_their_part(radius: float) -> None:
    """A drop of a quarter covers a quarter of the area of a full one, within 2 %; no drop, nothing."""
    assert single(radius, level=64).sum() / single(radius).sum() == pytest.approx(64 / 255, rel=0.02)
    assert single(radius, level=0).sum() == 0


@pytest.mark.parametrize("radius", [0.3, 0.6, 0.8])
def test_zoom_changes_nothing_but_the_pixels(radius: float) -> None:
    """At 1 to 8 pixels a dot the mean area of a tone is that at 24, within 1.5 %."""
    fine = tone(0.3, radius, zoom=24)
    for zoom in (1, 2, 3, 4, 8):
        assert tone(0.3, radius, zoom=zoom) == pytest.approx(fine, rel=0.015)


@pytest.mark.parametrize("n", [1.7, 2.0])
def test_screened_tones_against_the_wedge(n: float) -> None:
    """Blue-noise tones of 5 to 95 %, drawn, against the effective areas of the synthetic printer's wedges (Yule and Nielsen):
    never off by more than 0.05."""
    model = SyntheticColours(n, tuple("CMYK"))
    radii = spread_radius(model)
    for i, ink in enumerate(model.inks):
        amounts = np.zeros((len(TONES) + 2, 4))
        amounts[1:-1, i], amounts[-1, i] = TONES, 1
        seen = model.xyz(amounts) ** (1 / n)
        strongest = np.argmax(seen[0] - seen[-1])
        effective = ((seen[0] - seen) / (seen[0] - seen[-1]))[1:-1, strongest]
        off = np.array([tone(area, radii[ink]) for area in TONES]) - effective
        assert np.abs(off).max() < 0.05, ink


@pytest.mark.parametrize(("closes_at", "area"), [(1.0, 0.25), (0.7, 0.25 / 0.7), (0.5, 0.5)])
def test_white_dots(closes_at: float, area: float) -> None:
    """White that closes up at a tone covers the tone over it: so do its dots where they lie singly, at 5 and 10 %, within 2 %."""
    model = replace(NOMINAL_INKS, opacity=replace(NOMINAL, closes_at=closes_at), _reaches={})
    radii = spread_radius(model)
    assert radii["W"] == radii["W2"]
    for small in (0.05, 0.1):
        assert tone(small, radii["W"]) == pytest.approx(small * 4 * area, rel=0.02)


def test_white_that_is_a_layer_all_the_way() -> None:
    """It covers everything at once; its dots are discs of four cells, the largest there are."""
    radii = spread_radius(replace(NOMINAL_INKS, opacity=replace(NOMINAL, closes_at=0.0), _reaches={}))
    assert radii["W"] == pytest.approx(np.sqrt(4 / np.pi))


def test_no_zoom() -> None:
    """Less than a pixel a dot is refused."""
    with pytest.raises(ValueError, match="zoom 0"):
        drawn(np.zeros((2, 2), np.uint8), 0.5, zoom=0)
