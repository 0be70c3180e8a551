"""What is promised is kept: film and garment show the wanted colour for every pixel, not at the table's nodes alone."""

from functools import cache

import numpy as np
import pytest
from looking import hue_ramp, miss, opaque, seen, under

from filmhand.colour.charted import ChartedModel
from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import lab_from_xyz
from filmhand.colour.nominal import nominal_model
from filmhand.rules import Rule
from filmhand.separation.table import SeparationTable, build_table
from filmhand.separation.wanted import Looks, Setting

Floats = np.ndarray
TOLERANCE = 2.5
GARMENTS = ("#1b1b1d", "#1b2440", "#c4152b", "#d8c8a8", "#3c3c40", "#1f4d2b", "#504ed1")


@pytest.fixture(scope="module")
def tables(model: ChartedModel) -> dict[str, SeparationTable]:
    """Full tables, by garment."""
    return {garment: build_table(None, model=model, garment=garment, rule=rule_for(garment)) for garment in GARMENTS}


def rule_for(garment: str) -> Rule:
    """Full knockout, white everywhere alike."""
    knockout = {"strength": 1, "tolerance": TOLERANCE}
    return Rule.model_validate({"title": "t", "garment": garment, "knockout": knockout, "underbase": {"tolerance": 0}})


@cache
def looks_on(garment: str) -> Looks:
    """What colours shall look like there."""
    model = nominal_model(tuple("CMYK"))
    return Looks(Setting(None, model, under(garment, model=model), rule_for(garment)))


def own(garment: str) -> Floats:
    """The garment's values (3,)."""
    return np.frombuffer(bytes.fromhex(garment[1:]), np.uint8).astype(float)


def pixels(garment: str) -> np.ndarray:
    """50,000 of all colours, 10,000 about the garment's (60000, 3)."""
    rng = np.random.default_rng(7)
    near = np.clip(own(garment) + rng.normal(0, 14, (10000, 3)).astype(int), 0, 255)
    return np.concatenate([rng.integers(0, 256, (50000, 3)), near]).astype(np.uint8)


@pytest.mark.parametrize("garment", GARMENTS)
def test_every_pixel_is_within_the_tolerance(tables: dict[str, SeparationTable], model: ChartedModel, garment: str) -> None:
    """Wherever full film could show the wanted colour (within ΔE00 0.5), film and garment show it within the rule's tolerance."""
    rgb = pixels(garment)
    wanted = looks_on(garment).of(rgb).wanted
    within_reach = miss(model.xyz(model.exact_inks_for(wanted, rule_for(garment).colour)), wanted) <= 0.5
    off = miss(seen(tables[garment], rgb, model=model, garment=garment), wanted)[within_reach]
    assert within_reach.mean() > 0.7
    assert off.max() <= TOLERANCE
    assert off.mean() < 0.3


def ramps(garment: str) -> dict[str, np.ndarray]:
    """From the garment's colour to white, black, gray and its complement (512, 3)."""
    start = own(garment)
    ends = {"white": np.full(3, 255.0), "black": np.zeros(3), "gray": np.full(3, 128.0), "complement": 255 - start}
    share = np.linspace(0, 1, 512)[:, None]
    return {name: np.rint(start + share * (end - start)).astype(np.uint8) for name, end in ends.items()}


@pytest.mark.parametrize("garment", ["#c4152b", "#1b2440", "#1f4d2b", "#d8c8a8"])
def test_ramps_from_the_garments_colour(tables: dict[str, SeparationTable], model: ChartedModel, garment: str) -> None:
    """Away from the garment's colour film begins at nothing and grows without a seam: no step above 8 % of coverage or ΔE00 2
    (from one 8-bit value to the next the source's own steps reach 1.5), and hardly any less again further on."""
    for name, rgb in ramps(garment).items():
        coverage = tables[garment].apply(opaque(rgb))[1][0] / 255
        look = seen(tables[garment], rgb, model=model, garment=garment)
        assert coverage[0] == 0, name
        assert np.abs(np.diff(coverage)).max() <= 0.08, name
        assert miss(look[1:], look[:-1]).max() <= 2, name
        assert (np.maximum.accumulate(coverage) - coverage).max() <= 0.15, name


@pytest.mark.parametrize("garment", ["#c4152b", "#1f4d2b", "#d8c8a8"])
def test_shades_and_tints_keep_their_hue(tables: dict[str, SeparationTable], model: ChartedModel, garment: str) -> None:
    """Tints and shades of the garment's colour, and hues around it, come out in the hue that is wanted: ΔE00 of hue alone up to
    1.5."""
    steps = ramps(garment)
    for rgb in (steps["white"], steps["black"], hue_ramp(0.8, 0.7)):
        wanted = lab_from_xyz(looks_on(garment).of(rgb).wanted)
        look = lab_from_xyz(seen(tables[garment], rgb, model=model, garment=garment))
        chroma, angle = np.hypot(wanted[:, 1], wanted[:, 2]), np.arctan2(look[:, 2], look[:, 1])
        turned = np.stack([wanted[:, 0], chroma * np.cos(angle), chroma * np.sin(angle)], axis=1)
        assert difference(turned, wanted)[chroma > 5].max() <= 1.5


def test_red_on_red_goes(tables: dict[str, SeparationTable]) -> None:
    """On a red shirt its own red is bare, reds near it are sparse, and white, blue and black are solid."""
    rgb = np.array(
        [[0xC4, 0x15, 0x2B], [0xC8, 0x18, 0x30], [0xD0, 0x40, 0x50], [255, 255, 255], [0, 0, 255], [0, 0, 0]], np.uint8
    )
    coverage = tables["#c4152b"].apply(opaque(rgb))[1][0] / 255
    assert coverage[0] == 0
    assert coverage[1] < 0.02
    assert 0 < coverage[2] < 0.35
    assert (coverage[3:] > 0.95).all()
