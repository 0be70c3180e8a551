"""The inverse of the ink model: exact where it can be, near and true in hue where it cannot, and never in jumps."""

import colorsys

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import lab_from_xyz
from filmhand.colour.nominal import nominal_model
from filmhand.colour.oklab import oklab_from_xyz
from filmhand.colour.srgb import xyz_from_srgb
from filmhand.rules import BlackGeneration, ColourRules, Intent

MODEL = nominal_model(("C", "M", "Y", "K"))
FILM_BLACK = MODEL.xyz(MODEL.exact_inks_for(np.zeros(3), ColourRules()))


def rules(black: BlackGeneration = BlackGeneration.MEDIUM, limit: float = 220) -> ColourRules:
    """Colour rules with a black generation and an ink limit, in percent."""
    return ColourRules(black=black, ink_limit=limit)


def printable_inks(count: int, limit: float) -> NDArray[np.float64]:
    """Random inks within a limit."""
    inks = np.random.default_rng(5).random((count, 4))
    return np.asarray(inks * np.minimum(1, limit / 100 / inks.sum(axis=1))[:, None])


def miss(first: NDArray[np.float64], second: NDArray[np.float64]) -> NDArray[np.float64]:
    """ΔE00 between XYZ."""
    return difference(lab_from_xyz(first), lab_from_xyz(second))


@pytest.mark.parametrize("black", list(BlackGeneration))
def test_a_colour_in_gamut_is_given_back(black: BlackGeneration) -> None:
    """What inks within the limit print, other inks within the limit print too, within ΔE00 0.1."""
    colours = MODEL.xyz(printable_inks(2000, 220))
    assert miss(MODEL.xyz(MODEL.exact_inks_for(colours, rules(black))), colours).max() < 0.1


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 0xFFFFFF), st.floats(60, 400), st.sampled_from(BlackGeneration))
def test_the_ink_limit_is_kept(colour: int, limit: float, black: BlackGeneration) -> None:
    """No colour gets more ink than the rule allows, nor more or less of one than there is."""
    xyz = xyz_from_srgb(np.array([[colour >> 16, colour >> 8 & 255, colour & 255]], np.uint8))
    inks = MODEL.inks_for(xyz, rules(black, limit))
    assert inks.sum() <= limit / 100 + 1e-6
    assert inks.min() >= 0
    assert inks.max() <= 1


def test_more_black_is_less_ink() -> None:
    """For the same colours, in gamut, heavier black generation takes more K and less ink in all; least ink the least."""
    colours = MODEL.xyz(printable_inks(1000, 200))
    inks = {black: MODEL.exact_inks_for(colours, rules(black)) for black in BlackGeneration}
    order = [BlackGeneration.LIGHT, BlackGeneration.MEDIUM, BlackGeneration.HEAVY, BlackGeneration.LEAST_INK]
    black = [inks[kind][:, 3].mean() for kind in order]
    total = [inks[kind].sum(axis=1).mean() for kind in order]
    assert black == sorted(black)
    assert total == sorted(total, reverse=True)


def test_white_is_bare_film() -> None:
    """White takes no ink."""
    assert MODEL.inks_for(xyz_from_srgb(np.array([[255, 255, 255]], np.uint8)), rules()).max() < 1e-6


def test_out_of_gamut_keeps_hue() -> None:
    """sRGB's strongest colours turn by less than 15° of Oklab hue."""
    strong = [[255, 0, 0], [0, 255, 0], [0, 0, 255], [0, 255, 255], [255, 0, 255], [255, 255, 0], [40, 70, 255], [120, 0, 200]]
    xyz = xyz_from_srgb(np.array(strong, np.uint8))
    wanted, printed = oklab_from_xyz(xyz), oklab_from_xyz(MODEL.xyz(MODEL.inks_for(xyz, rules())))
    turn = np.arctan2(printed[:, 2], printed[:, 1]) - np.arctan2(wanted[:, 2], wanted[:, 1])
    assert np.abs((np.degrees(turn) + 180) % 360 - 180).max() < 15


def test_out_of_gamut_is_near() -> None:
    """No other printable colour is nearer than half of the miss: 20000 random inks are tried."""
    xyz = xyz_from_srgb(np.array([[255, 0, 0], [0, 255, 0], [0, 0, 255], [255, 255, 0]], np.uint8))
    tried = lab_from_xyz(MODEL.xyz(printable_inks(20000, 220)))
    best = difference(lab_from_xyz(xyz)[:, None], tried[None]).min(axis=1)
    assert (miss(MODEL.xyz(MODEL.exact_inks_for(xyz, rules())), xyz) < 2 * best).all()


def ramp(kind: str) -> NDArray[np.uint8]:
    """256 sRGB colours (256, 3), each a small step from the last."""
    if kind == "gray":
        return np.repeat(np.arange(256, dtype=np.uint8)[:, None], 3, axis=1)
    saturation, value = map(float, kind.removeprefix("hue ").split())
    return np.array([[round(255 * x) for x in colorsys.hsv_to_rgb(h / 256, saturation, value)] for h in range(256)], np.uint8)


@pytest.mark.parametrize("black", list(BlackGeneration))
@pytest.mark.parametrize("kind", ["gray", "hue 1 1", "hue 1 0.3", "hue 0.5 0.6"])
def test_no_banding(kind: str, black: BlackGeneration) -> None:
    """No step of a ramp is printed larger than 1.5 times the source's largest step, plus ΔE00 0.1; no ink jumps by 1/6."""
    xyz = xyz_from_srgb(ramp(kind))
    inks = MODEL.inks_for(xyz, rules(black))
    printed = MODEL.xyz(inks)
    assert miss(printed[1:], printed[:-1]).max() < 1.5 * miss(xyz[1:], xyz[:-1]).max() + 0.1
    assert np.abs(np.diff(inks, axis=0)).max() < 1 / 6


def test_black_point_compensation() -> None:
    """Source black comes within L* 1 of the darkest print, and tones above it stay apart; clipped without it they merge."""
    dark = xyz_from_srgb(np.repeat(np.array([[0], [8], [16], [24]], np.uint8), 3, axis=1))
    with_it = MODEL.xyz(MODEL.inks_for(dark, rules()))
    without = MODEL.xyz(MODEL.inks_for(dark, ColourRules(black_point_compensation=False, intent=Intent.RELATIVE)))
    assert lab_from_xyz(with_it[0])[0] < lab_from_xyz(FILM_BLACK)[0] + 1
    assert (np.diff(with_it[:, 1]) > 0).all()
    assert np.ptp(lab_from_xyz(with_it)[:, 0]) > 4
    assert np.ptp(lab_from_xyz(without)[:, 0]) < 2
    assert np.hypot(*lab_from_xyz(with_it).T[1:]).max() < 0.5
    assert np.hypot(*lab_from_xyz(without).T[1:]).max() < 2.5
