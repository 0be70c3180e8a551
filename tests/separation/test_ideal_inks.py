"""Knockout is the `over` operator solved backwards: with ideal inks, film over a garment is the artwork itself.

Ideal inks are three block dyes that each take all of one of sRGB's three lights and nothing of the others, halftones that mix
like light (n = 1), and a white that hides any garment: all of sRGB can be printed, and nothing else. What is checked against is
Porter and Duff's `over` (1984), written out here in linear light.
"""

from dataclasses import dataclass, replace
from unittest.mock import patch

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from looking import opaque

from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import D50_WHITE, lab_from_xyz
from filmhand.colour.inverse.settle import Nodes
from filmhand.colour.model import InkModel
from filmhand.colour.opacity import Opacity
from filmhand.colour.printer_tone import printer_tone
from filmhand.colour.srgb import FROM_XYZ, TO_XYZ, xyz_of_hex
from filmhand.rules import ColourRules, Rule
from filmhand.separation import axes
from filmhand.separation.knockout import Ground, least_coverage
from filmhand.separation.table import SeparationTable, build_table
from filmhand.separation.wanted import Looks, Setting

Floats = np.ndarray
GARMENTS = st.integers(0, 0xFFFFFF).map(lambda value: f"#{value:06x}")
COLOURS = st.tuples(*[st.integers(0, 255)] * 3)
PLAIN = {"ink_limit": 300, "black_point_compensation": False}


@dataclass(frozen=True)
class IdealInks:
    """An `InkModel`."""

    inks: tuple[str, ...] = ("C", "M", "Y")
    yule_nielsen: float = 1.0
    is_nominal: bool = False
    digest: str = "ideal"
    colours_digest: str = "ideal"

    @property
    def film_white(self) -> Floats:
        return D50_WHITE

    @property
    def opacity(self) -> Opacity:
        return Opacity(infinite=np.ones(3), scatter=np.full(3, 1e12), chart_ground=D50_WHITE)

    def xyz(self, inks: Floats) -> Floats:
        return np.asarray((1 - inks) @ TO_XYZ.T)

    def inks_for(self, xyz: Floats, rules: ColourRules) -> Floats:
        return self.exact_inks_for(xyz, rules)

    def exact_inks_for(self, xyz: Floats, rules: ColourRules) -> Floats:
        assert rules.ink_limit == PLAIN["ink_limit"]
        return np.clip(1 - xyz @ FROM_XYZ.T, 0, 1)

    def settled(self, inks: Floats, nodes: Nodes, rules: ColourRules) -> Floats:  # noqa: ARG002
        return inks


IDEAL: InkModel = IdealInks()


def rule_of(**knockout: float) -> Rule:
    """Full knockout, and only the garment's very colour counts as the garment's, unless `knockout` says otherwise."""
    return Rule.model_validate({"title": "test", "colour": PLAIN, "knockout": {"strength": 1, "tolerance": 0, **knockout}})


def light(rgb: Floats) -> Floats:
    """Linear light of sRGB values, 0 to 1: IEC 61966-2-1."""
    return np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)


def value(lit: Floats) -> Floats:
    """sRGB values, 0 to 1, of linear light."""
    return np.where(lit <= 0.0031308, 12.92 * lit, 1.055 * np.maximum(lit, 0) ** (1 / 2.4) - 0.055)


def over(colour: Floats, alpha: Floats, ground: Floats) -> Floats:
    """Porter and Duff 1984: linear light (m, 3) of an opacity (m,) over a ground (3,)."""
    return alpha[:, None] * colour + (1 - alpha[:, None]) * ground


def delta_e(first: Floats, second: Floats) -> Floats:
    """ΔE00 (m,) between linear light (m, 3)."""
    return difference(lab_from_xyz(first @ TO_XYZ.T), lab_from_xyz(second @ TO_XYZ.T))


def values_of(garment: str) -> Floats:
    """The three values of "#rrggbb", 0 to 1."""
    return np.frombuffer(bytes.fromhex(garment[1:]), np.uint8) / 255


def film_for(rgb: Floats, garment: str, *, miss: float) -> tuple[Floats, Floats]:
    """Coverage (m,) and ink amounts (m, 3) found for colours (m, 3) uint8 themselves, with no table in between.

    `miss`: ΔE00 that counts as none.
    """
    setting = Setting(None, IDEAL, xyz_of_hex(garment), rule_of())
    look = Looks(setting).of(rgb)
    film, ground = look.share > 0, replace(Ground.under(setting.garment, IDEAL, setting.rule.colour), tight=miss)
    coverage, inks = np.zeros(len(rgb)), np.zeros((len(rgb), 3))
    coverage[film] = least_coverage(look.wanted[film], ground, look.slack[film]).coverage
    inks[film] = ground.inks(look.wanted[film], coverage[film])
    return coverage, inks


def small_table(garment: str, *, nodes: int = 5, **knockout: float) -> SeparationTable:
    """A table of a few even nodes an axis, and those about the garment."""
    with patch.object(axes, "EVEN", np.rint(np.linspace(0, 255, nodes)).astype(np.uint8)):
        return build_table(None, model=IDEAL, garment=garment, rule=rule_of(**knockout))


@settings(max_examples=50, deadline=None)
@given(GARMENTS, st.lists(COLOURS, min_size=1, max_size=40), st.integers(1, 255))
def test_film_over_the_garment_is_the_artwork(garment: str, colours: list[tuple[int, ...]], alpha: int) -> None:
    """On any garment any artwork, opaque or half transparent, shows itself within 1/255 in sRGB, and within the ΔE00 0.1 that
    counts as none for a printer."""
    rgb, opacity, ground = np.array(colours, np.uint8), np.full(len(colours), alpha / 255), light(values_of(garment))
    source = over(light(rgb / 255), opacity, ground)
    coverage, inks = film_for(rgb, garment, miss=1e-3)
    assert np.abs(value(over(1 - inks, opacity * coverage, ground)) - value(source)).max() <= 1 / 255
    coverage, inks = film_for(rgb, garment, miss=0.1)
    assert delta_e(over(1 - inks, coverage, ground), light(rgb / 255)).max() <= 0.1 + 1e-6


@settings(max_examples=50, deadline=None)
@given(GARMENTS, st.lists(COLOURS, min_size=1, max_size=40))
def test_no_less_film_would_do(garment: str, colours: list[tuple[int, ...]]) -> None:
    """Coverage is the least `over` leaves possible: (S - G) / (1 - G) or (G - S) / G in whichever light asks for most; no
    coverage under 1 % is sought, and the last halving leaves 1 %."""
    rgb = np.array(colours, np.uint8)
    source, ground = light(rgb / 255), light(values_of(garment))
    room = np.where(source > ground, 1 - ground, ground)
    least = (np.abs(source - ground) / np.maximum(room, 1e-12)).max(axis=1)
    coverage, _ = film_for(rgb, garment, miss=1e-3)
    assert (coverage <= np.maximum(least, 0.0101) * 1.01).all()


@settings(max_examples=12, deadline=None)
@given(GARMENTS, st.integers(0, 255), st.floats(0, 20))
def test_garment_coloured_pixels_leave_no_film(garment: str, alpha: int, tolerance: float) -> None:
    """The garment's own colour is bare on any garment, however transparent and at any tolerance."""
    own = np.append(np.rint(255 * values_of(garment)), alpha).astype(np.uint8)
    inks, coverage, white = small_table(garment, tolerance=tolerance).apply(own[None, None])
    assert not coverage.any()
    assert not inks.any()
    assert not white.any()


@settings(max_examples=12, deadline=None)
@given(GARMENTS, st.lists(COLOURS, min_size=1, max_size=40), st.floats(0, 1), st.floats(0, 1))
def test_coverage_falls_with_strength(garment: str, colours: list[tuple[int, ...]], first: float, second: float) -> None:
    """On any garment no colour gets more film from more strength; none leaves film everywhere."""
    pixels = opaque(np.array(colours, np.uint8))
    less, more = (small_table(garment, strength=s).apply(pixels)[1].astype(int) for s in sorted((first, second)))
    assert (more <= less + 1).all()  # each rounded to 8 bits
    assert (small_table(garment, strength=0).apply(pixels)[1] == 255).all()


@pytest.mark.parametrize("garment", ["#1b1b1d", "#1b2440", "#c4152b", "#d8c8a8", "#808080", "#ffffff"])
def test_the_whole_table(garment: str) -> None:
    """Through a table of 33 nodes and 8-bit planes the artwork is itself within ΔE00 0.25 on the mean, 1 at 99 of 100 pixels:
    what interpolation and rounding add."""
    rgb = np.random.default_rng(6).integers(0, 256, (20000, 3), np.uint8)
    tones, coverage, _ = build_table(None, model=IDEAL, garment=garment, rule=rule_of()).apply(opaque(rgb))
    amounts = printer_tone(IDEAL).amounts(tones[:, 0].T / 255, inks=IDEAL.inks)
    off = delta_e(over(1 - amounts, coverage[0] / 255, light(values_of(garment))), light(rgb / 255))
    assert off.mean() <= 0.25
    assert np.percentile(off, 99) <= 1
