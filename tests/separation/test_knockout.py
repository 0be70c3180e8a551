"""Knockout: no film in the garment's colour, the least elsewhere, and the promised colour all the same."""

from dataclasses import replace
from itertools import pairwise, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from looking import Build, gray_ramp, hue_ramp, miss, opaque, seen, under

from filmhand.colour.charted import ChartedModel
from filmhand.colour.printer_tone import printer_tone
from filmhand.colour.srgb import xyz_from_srgb, xyz_of_hex
from filmhand.rules import ColourRules, Rule
from filmhand.separation.axes import axes_about_garment, nodes
from filmhand.separation.knockout import Ground, least_coverage
from filmhand.separation.table import SeparationTable
from filmhand.separation.wanted import Looks, Setting

BLACK, NAVY, RED, SAND, CHARCOAL = "#1b1b1d", "#1b2440", "#b01020", "#d8c8a8", "#3c3c40"
FULL = {"strength": 1.0}
TOLERANCE = 2.5


def setting_of(garment: str, model: ChartedModel, **knockout: float) -> Setting:
    """An sRGB source on a garment."""
    rule = Rule.model_validate({"title": "test", "knockout": {"strength": 1.0, **knockout}})
    return Setting(None, model, under(garment, model=model), rule)


def value_of(colour: str) -> np.ndarray:
    """The three values (1, 3) of "#rrggbb"."""
    return np.frombuffer(bytes.fromhex(colour[1:]), np.uint8)[None]


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 0xFFFFFF).map(lambda value: f"#{value:06x}"))
def test_the_garments_colour_is_left_bare_on_any_garment(model: ChartedModel, garment: str) -> None:
    """Artwork in the garment's own colour is bare, and so are all nodes about it, so that the table says so exactly."""
    setting = setting_of(garment, model)
    looks = Looks(setting)
    assert looks.of(value_of(garment)).share[0] == 0
    drawn = replace(setting, garment=xyz_of_hex(garment))
    pairs = zip(axes_about_garment(drawn, looks), value_of(garment)[0], strict=True)
    about = [(axis[axis <= value].max(), axis[axis >= value].min()) for axis, value in pairs]
    assert not looks.of(np.array(list(product(*about)), np.uint8)).share.any()


@pytest.mark.parametrize("garment", [BLACK, NAVY, RED, SAND, CHARCOAL, "#808080", "#ffffff"])
def test_values_about_the_garments_colour_are_bare_too(coarse: Build, garment: str) -> None:
    """A value or so of noise about the garment's colour makes no specks of film."""
    about = np.array([[r, g, b] for r in (-1, 0, 1) for g in (-1, 0, 1) for b in (-1, 0, 1)])
    rgb = np.clip(value_of(garment).astype(int) + about, 0, 255).astype(np.uint8)
    assert not coarse(garment, knockout=FULL).apply(opaque(rgb))[1].any()


@pytest.mark.parametrize(
    ("garment", "has_film"),
    [(BLACK, False), ("#000000", False), ("#262626", False), (NAVY, True), (RED, True), (SAND, True), (CHARCOAL, True)],
)
def test_source_black(coarse: Build, garment: str, has_film: bool) -> None:
    """Black artwork is bare on what is sold as black, and printed on every other garment."""
    coverage = coarse(garment, knockout=FULL).apply(opaque(np.zeros((1, 3), np.uint8)))[1]
    assert bool(coverage[0, 0]) == has_film


@pytest.mark.parametrize("garment", [BLACK, NAVY, RED, SAND])
def test_the_promised_colour_is_kept(coarse: Build, model: ChartedModel, garment: str) -> None:
    """At every node film and garment show the wanted colour W within the tolerance, on average within ΔE00 1."""
    table = coarse(garment, knockout=FULL)
    rgb = nodes(table.axes)
    off = miss(seen(table, rgb, model=model, garment=garment), Looks(setting_of(garment, model)).of(rgb).wanted)
    assert off.max() <= TOLERANCE + 0.2  # 8-bit planes
    assert off.mean() < 1


@pytest.mark.parametrize("garment", [NAVY, RED, SAND])
def test_what_full_film_shows_is_kept(coarse: Build, model: ChartedModel, garment: str) -> None:
    """Further than ΔE00 20 from the garment, where neither its colour nor its black has a say, full film's own colour is kept."""
    table = coarse(garment, knockout=FULL)
    rgb = nodes(table.axes)
    rgb = rgb[miss(xyz_from_srgb(rgb), xyz_of_hex(garment)) > 20]
    full = Looks(setting_of(garment, model)).of(rgb).full
    assert miss(seen(table, rgb, model=model, garment=garment), full).max() <= TOLERANCE + 0.2


def test_in_gamut_colours_look_as_wanted(on_black: SeparationTable, model: ChartedModel) -> None:
    """Colours that full film prints, sent through the full table between its nodes: ΔE00 on average below 1."""
    rgb = np.random.default_rng(3).integers(0, 256, (20000, 3), np.uint8)
    wanted = Looks(setting_of(BLACK, model)).of(rgb).wanted
    source = xyz_from_srgb(rgb)
    printable = miss(model.xyz(model.exact_inks_for(source, ColourRules())), source) < 1
    assert printable.mean() > 0.3
    off = miss(seen(on_black, rgb, model=model, garment=BLACK), wanted)[printable]
    assert off.mean() < 1
    assert np.percentile(off, 99) < TOLERANCE


def test_strength_is_monotone(coarse: Build) -> None:
    """More strength never means more film; none means film everywhere, the same for every garment."""
    rgb = opaque(np.random.default_rng(4).integers(0, 256, (3000, 3), np.uint8))
    coverage = [coarse(BLACK, knockout={"strength": s}).apply(rgb)[1].astype(int) for s in (0, 0.3, 0.7, 1)]
    assert (coverage[0] == 255).all()
    for less, more in pairwise(coverage):
        assert (more <= less + 1).all()  # 8-bit rounding
    assert coverage[3].mean() < coverage[2].mean() < coverage[1].mean() < 255


def test_without_knockout_the_garment_plays_no_part(coarse: Build) -> None:
    """Strength 0 gives the same table on black and on red."""
    assert np.array_equal(coarse(BLACK).values, coarse(RED).values)


def test_partial_strength_keeps_the_colour(coarse: Build, model: ChartedModel) -> None:
    """At half strength bright colours look as on full film, within ΔE00 1.5 on average."""
    rgb = np.random.default_rng(5).integers(64, 256, (500, 3), np.uint8)
    table = coarse(BLACK, knockout={"strength": 0.5})
    rgb = nodes(table.axes)
    full = Looks(setting_of(BLACK, model)).of(rgb).full
    assert miss(seen(table, rgb, model=model, garment=BLACK), full).mean() < 1.5


def test_the_ink_limit_is_kept(coarse: Build, model: ChartedModel) -> None:
    """Within the film no node has more ink than the rule allows, however sparse the film."""
    values = coarse(BLACK, knockout=FULL, colour={"ink_limit": 160}).values.astype(float)
    film = values[values[..., 0] > 0]
    amounts = printer_tone(model).amounts(film[:, 1:] / film[:, :1], inks=model.inks)
    assert amounts.sum(axis=-1).max() <= 1.6 + 1e-5


@pytest.mark.parametrize("least", [10, 30])
def test_least_coverage(coarse: Build, least: float) -> None:
    """Where there is film, there is at least as much as the rule says; the garment's colour stays bare."""
    coverage = coarse(BLACK, knockout={"strength": 1, "least_coverage": least}).apply(opaque(gray_ramp()))[1][0]
    assert coverage[0] == 0
    assert coverage[coverage > 0].min() >= round(least * 2.55)


@pytest.mark.parametrize("kind", ["gray", "hue"])
def test_ramps_do_not_jump(on_black: SeparationTable, model: ChartedModel, kind: str) -> None:
    """Ramps of 256 levels on black, through the full table: the look steps by less than ΔE00 3 (the source by 2.2 at most on the
    hues, 0.4 on the grays), coverage by no more than 12 of 255."""
    rgb = gray_ramp() if kind == "gray" else hue_ramp(1, 1)
    look = seen(on_black, rgb, model=model, garment=BLACK)
    coverage = on_black.apply(opaque(rgb))[1][0].astype(int)
    assert miss(look[1:], look[:-1]).max() < (1 if kind == "gray" else 3)
    assert np.abs(np.diff(coverage)).max() <= 12


def test_white_on_black_is_the_least_film_there_can_be(model: ChartedModel) -> None:
    """White film over black: a gray of reflectance R needs (R^(1/n) - G^(1/n)) / (1 - G^(1/n)), by the formula alone."""
    ground = Ground.under(xyz_of_hex("#000000"), model, ColourRules())
    grays = xyz_from_srgb(np.array([[60] * 3, [128] * 3, [200] * 3], np.uint8))
    expected = grays[:, 1] ** (1 / model.yule_nielsen)
    assert least_coverage(grays, ground, np.zeros(3)).coverage == pytest.approx(expected, rel=0.02)


def test_the_least_coverage_keeps_its_bound(model: ChartedModel) -> None:
    """At the least coverage film misses no colour by more than it may, also where the nearest colour it can print jumps from one
    edge of its gamut to another, as it does for dark teals on charcoal."""
    setting = setting_of(CHARCOAL, model, tolerance=5.0)
    ground = Ground.under(setting.garment, model, setting.rule.colour)
    teals = np.array([[r, g, b] for r in (0, 8) for g in range(16, 56, 4) for b in range(16, 64, 4)], np.uint8)
    look = Looks(setting).of(teals)
    film = look.share > 0
    coverage = least_coverage(look.wanted[film], ground, look.slack[film]).coverage
    assert coverage.mean() < 0.7
    assert (ground.miss(look.wanted[film], coverage) <= np.maximum(look.slack[film], ground.tight) + 0.05).all()
