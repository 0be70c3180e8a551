"""Least ink, and inks that run smooth from node to node, on a published press and on invented inks."""

import colorsys

import numpy as np
import pytest
from numpy.typing import NDArray
from skimage import data

from colour.published_sets import fitted_press
from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import lab_from_xyz
from filmhand.colour.expense import Expense
from filmhand.colour.inverse.settle import BEND, EXACT, Nodes, bends
from filmhand.colour.model import InkModel
from filmhand.colour.nominal import nominal_model
from filmhand.colour.printer_tone import printer_tone
from filmhand.colour.srgb import xyz_from_srgb
from filmhand.rules import BlackGeneration, ColourRules, Rule, Spared
from filmhand.separation.table import build_table

Floats = NDArray[np.float64]
Bytes = NDArray[np.uint8]

AXIS = np.append(np.arange(0, 255, 16), 255).astype(np.uint8)
FILM = np.ones((len(AXIS),) * 3, np.bool_)


def miss(first: Floats, second: Floats) -> Floats:
    """ΔE00 between XYZ."""
    return difference(lab_from_xyz(first), lab_from_xyz(second))


def grid() -> Bytes:
    """Source values (17, 17, 17, 3)."""
    return np.stack(np.meshgrid(AXIS, AXIS, AXIS, indexing="ij"), axis=-1)


def exact_and_settled(model: InkModel, rules: ColourRules, film: NDArray[np.bool_] = FILM) -> tuple[Floats, Floats]:
    """Inks (17, 17, 17, k) before and after."""
    exact = model.inks_for(xyz_from_srgb(grid()), rules)
    return exact, model.settled(exact, Nodes((AXIS, AXIS, AXIS), film), rules)


@pytest.mark.outside
@pytest.mark.parametrize("limit", [220, 300])
@pytest.mark.parametrize("black", list(BlackGeneration))
def test_round_trip_on_a_published_press(black: BlackGeneration, limit: float) -> None:
    """Colours that FOGRA39's inks print within the limit come back: ΔE00 0.3 on average, 1.0 for all; the limit is kept."""
    press = fitted_press()
    inks = np.random.default_rng(1).random((3000, 4))
    colours = press.xyz(inks * np.minimum(1, limit / 100 / inks.sum(axis=1))[:, None])
    found = press.exact_inks_for(colours, ColourRules(black=black, ink_limit=limit))
    off = miss(press.xyz(found), colours)
    assert off.mean() <= 0.3
    assert off.max() <= 1.0
    assert np.rint(found * 255).sum(axis=1).max() / 255 <= limit / 100 * 1.005


@pytest.mark.outside
def test_a_tolerance_is_kept_and_saves() -> None:
    """At no node is a colour off by more than the tolerance; the greater it is, the less ink, always within the limit."""
    press, spent = fitted_press(), []
    for tolerance in (0.0, 0.5, 1.0, 2.0):
        rules = ColourRules(black=BlackGeneration.LEAST_INK, ink_limit=300, tolerance=tolerance)
        exact, settled = exact_and_settled(press, rules)
        assert miss(press.xyz(settled), press.xyz(exact)).max() <= max(tolerance, EXACT) + 0.05
        assert settled.min() >= 0
        assert np.rint(settled * 255).sum(axis=-1).max() / 255 <= 3 * 1.005
        spent.append(settled.sum())
    assert spent == sorted(spent, reverse=True)
    assert spent[-1] < 0.99 * spent[0]  # most of these nodes are saturated colours, which leave little choice


@pytest.mark.outside
def test_a_photograph_spares_ink() -> None:
    """scikit-image's coffee, every 50th pixel: 13 % less ink than light black, colours off by ΔE00 0.5 on average."""
    press, pixels = fitted_press(), data.coffee().reshape(-1, 3)[::50]
    inks, wanted = {}, None
    for black in (BlackGeneration.LIGHT, BlackGeneration.LEAST_INK):
        rule = Rule(title="test", colour=ColourRules(black=black, ink_limit=330, tolerance=1.8))
        table = build_table(None, model=press, garment="#ffffff", rule=rule)
        opaque = np.concatenate([pixels, np.full((len(pixels), 1), 255, np.uint8)], axis=1)[None]
        inks[black] = printer_tone(press).amounts(table.apply(opaque)[0][:, 0].T / 255, inks=press.inks)
        wanted = press.inks_for(xyz_from_srgb(pixels), rule.colour)
    spared = inks[BlackGeneration.LEAST_INK]
    assert miss(press.xyz(spared), press.xyz(wanted)).mean() <= 0.5
    assert spared.sum() <= 0.87 * inks[BlackGeneration.LIGHT].sum()


@pytest.mark.outside
@pytest.mark.parametrize("black", list(BlackGeneration))
def test_inks_run_smooth(black: BlackGeneration) -> None:
    """Of 100 nodes, those at the gamut's edge among them, 98 bend by no more than the bound, fewer than before; without a
    tolerance colours stay within ΔE00 0.25 in 99."""
    press = fitted_press()
    nodes = Nodes((AXIS, AXIS, AXIS), FILM)
    exact, settled = exact_and_settled(press, ColourRules(black=black, ink_limit=300, tolerance=0))
    assert np.percentile(bends(settled, nodes), 98) <= BEND
    assert bends(settled, nodes).mean() < bends(exact, nodes).mean()
    assert np.percentile(miss(press.xyz(settled), press.xyz(exact)), 99) <= 0.25


def test_bare_nodes_count_for_nothing() -> None:
    """What stands in nodes without film changes nothing in the others, nor is it changed."""
    model, rules = nominal_model(tuple("CMYK")), ColourRules(black=BlackGeneration.LEAST_INK, tolerance=1)
    film = FILM.copy()
    film[3:6, 3:6, 3:6] = False
    nodes = Nodes((AXIS, AXIS, AXIS), film)
    inks = model.inks_for(xyz_from_srgb(grid()), rules)
    other = inks.copy()
    other[~film] = [0.5, 0.1, 0.9, 0.3]
    first, second = model.settled(inks, nodes, rules), model.settled(other, nodes, rules)
    assert np.array_equal(first[film], second[film])
    assert np.array_equal(second[~film], other[~film])


def test_dear_ink_is_spared_for_money() -> None:
    """Black ink at twenty times the others' price: to spare money less of it is taken, and less is paid; more ink in all."""
    expense = Expense((7.0,) * 4, (50.0, 50.0, 50.0, 1000.0))
    model = nominal_model(tuple("CMYK"), expense=expense)
    inks = {
        spare: exact_and_settled(model, ColourRules(black=BlackGeneration.LEAST_INK, tolerance=1, spare=spare))[1]
        for spare in Spared
    }
    money, ink = inks[Spared.MONEY].reshape(-1, 4), inks[Spared.INK].reshape(-1, 4)
    assert money[:, 3].mean() < 0.7 * ink[:, 3].mean()
    assert (money @ expense.prices).mean() < (ink @ expense.prices).mean()
    assert ink.sum() < money.sum()


def test_light_tones_without_black_dots() -> None:
    """Smooth tones: K leaves the light tones (L* 75 and more), and stays in the deep ones."""
    model = nominal_model(tuple("CMYK"))
    lightness = lab_from_xyz(xyz_from_srgb(grid()))[..., 0]
    black = [
        exact_and_settled(model, ColourRules(black=BlackGeneration.LEAST_INK, tolerance=0.5, smooth_tones=s))[1][..., 3]
        for s in (0, 1)
    ]
    assert black[1][lightness > 75].mean() < 0.5 * black[0][lightness > 75].mean()
    assert black[1][lightness < 40].mean() > 0.9 * black[0][lightness < 40].mean()


def test_a_further_ink_spares_ink() -> None:
    """With orange in the printer least ink lays less in all, and no more where orange cannot help (blues)."""
    rules = ColourRules(black=BlackGeneration.LEAST_INK, tolerance=0.5)
    warm = xyz_from_srgb(np.array([[230, 150, 80], [200, 120, 60], [240, 180, 120]], np.uint8))
    plain, more = nominal_model(tuple("CMYK")), nominal_model(tuple("CMYKO"))
    assert (more.exact_inks_for(warm, rules).sum(axis=1) < plain.exact_inks_for(warm, rules).sum(axis=1) - 0.05).all()
    assert (more.exact_inks_for(warm, rules)[:, 4] > 0.1).all()


@pytest.mark.parametrize("black", [BlackGeneration.MEDIUM, BlackGeneration.LEAST_INK])
@pytest.mark.parametrize(("saturation", "value"), [(1, 1), (0.6, 0.8), (0.9, 0.5)])
def test_no_seams_between_sectors(black: BlackGeneration, saturation: float, value: float) -> None:
    """Around hue circles (720 steps) through the table of eight inks: no step of the print is larger than 1.6 times the source's
    largest, with ΔE00 0.1 for eight bits. Before inks were drawn together at seams it was 3 to 6 times."""
    model = nominal_model(tuple("CMYKRGBO"))
    rule = Rule(title="test", colour=ColourRules(black=black, ink_limit=250))
    table = build_table(None, model=model, garment="#ffffff", rule=rule)
    circle = [colorsys.hsv_to_rgb(step / 720, saturation, value) for step in range(720)]
    rgb = np.rint(255 * np.array(circle)).astype(np.uint8)
    pixels = np.concatenate([rgb, np.full((720, 1), 255, np.uint8)], axis=1)[None]
    amounts = printer_tone(model).amounts(table.apply(pixels)[0][:, 0].T / 255, inks=model.inks)
    printed, source = model.xyz(amounts), xyz_from_srgb(rgb)
    assert miss(printed[1:], printed[:-1]).max() <= 1.6 * miss(source[1:], source[:-1]).max() + 0.1
