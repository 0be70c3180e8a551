"""Gamut mapping: within the gamut, true in hue, gray kept gray, and without jumps, folds or bands."""

import colorsys

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from filmhand.colour import cielab, srgb
from filmhand.colour.black_point import compensated
from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import D50_WHITE
from filmhand.colour.gamut_boundary import printable_boundary, srgb_boundary
from filmhand.colour.gamut_mapping import mapped
from filmhand.colour.gamut_space import lab_from_xyz, lch_from_xyz, xyz_from_lch
from filmhand.colour.nominal import nominal_model
from filmhand.rules import Intent

Floats = NDArray[np.float64]

MODELS = {inks: nominal_model(tuple(inks)) for inks in ("CMYK", "CMYKRGBO")}
GAMUTS = {inks: printable_boundary(model, limit=2.2) for inks, model in MODELS.items()}
BLACK = xyz_from_lch(np.array([GAMUTS["CMYK"].darkest, 0, 0]))
WHOLE, LIFTED = srgb_boundary(black=np.zeros(3)), srgb_boundary(black=BLACK)
KINDS = (Intent.PERCEPTUAL, Intent.RELATIVE, Intent.SATURATION)
every_kind = pytest.mark.parametrize("intent", KINDS)
every_print = pytest.mark.parametrize("inks", MODELS)


def source_colours(*, lifted: bool) -> Floats:
    """XYZ (m, 3) of a grid over sRGB, with its black moved to the print's or not."""
    rgb = np.stack(np.meshgrid(*[np.linspace(0, 1, 23)] * 3, indexing="ij"), axis=-1).reshape(-1, 3)
    return source(rgb, lifted=lifted)


def source(rgb: Floats, *, lifted: bool) -> Floats:
    """XYZ (m, 3) of sRGB, 0 to 1."""
    xyz = srgb.decode(rgb) @ srgb.TO_XYZ.T
    return compensated(xyz, black=np.zeros(3), to=BLACK) if lifted else xyz


def at(xyz: Floats, intent: Intent, *, inks: str = "CMYK", lifted: bool = True) -> Floats:
    """Mapped from sRGB."""
    return mapped(xyz, gamut=GAMUTS[inks], intent=intent, source=LIFTED if lifted else WHOLE)


def apart(first: Floats, second: Floats) -> Floats:
    """ΔE00 between XYZ."""
    return difference(cielab.lab_from_xyz(first), cielab.lab_from_xyz(second))


@every_kind
@every_print
@pytest.mark.parametrize("lifted", [True, False])
def test_the_result_is_printable(intent: Intent, inks: str, lifted: bool) -> None:
    """Every colour ends in the gamut, within a quarter of a unit in lightness and in chroma."""
    result = at(source_colours(lifted=lifted), intent, inks=inks, lifted=lifted)
    assert GAMUTS[inks].holds(result, tolerance=0.25).all()


@every_kind
@pytest.mark.parametrize("lifted", [True, False])
def test_hue_is_kept(intent: Intent, lifted: bool) -> None:
    """To a millionth of a degree, sRGB's primaries among them."""
    colours = source_colours(lifted=lifted)
    before, after = lch_from_xyz(colours), lch_from_xyz(at(colours, intent, lifted=lifted))
    coloured = (before[:, 1] > 0.1) & (after[:, 1] > 0.1)
    turn = (after[coloured, 2] - before[coloured, 2] + 180) % 360 - 180
    assert coloured.mean() > 0.9
    assert np.abs(turn).max() < 1e-6


@pytest.mark.parametrize("intent", list(Intent))
@pytest.mark.parametrize("lifted", [True, False])
def test_grays_stay_gray_and_in_order(intent: Intent, lifted: bool) -> None:
    """XYZ in the proportions of white, never darker for a lighter source; white stays white, black is the darkest gray."""
    result = at(source(np.linspace(0, 1, 256)[:, None] * np.ones(3), lifted=lifted), intent, lifted=lifted)
    assert result / result[:, 1:2] == pytest.approx(np.tile(D50_WHITE, (256, 1)), abs=1e-9)
    assert (np.diff(result[:, 1]) >= -1e-12).all()
    assert result[-1] == pytest.approx(D50_WHITE, abs=1e-9)
    assert result[0] == pytest.approx(BLACK, abs=1e-6)


def test_black_point_compensation_is_not_done_twice() -> None:
    """Where the source's black is the print's already, no gray moves."""
    grays = source(np.linspace(0, 1, 256)[:, None] * np.ones(3), lifted=True)
    for intent in Intent:
        assert at(grays, intent) == pytest.approx(grays, abs=1e-9)


@every_print
def test_clipping_leaves_what_can_be_printed(inks: str) -> None:
    """Relative and absolute: no printed colour moves by ΔE00 0.3, but within two units of the darkest gray."""
    rng = np.random.default_rng(0)
    amounts = np.zeros((4000, len(inks)))
    amounts[:, :4] = rng.random((4000, 4)) ** 2
    amounts *= np.minimum(1, 2.2 / amounts.sum(axis=1))[:, None]
    colours = MODELS[inks].xyz(amounts)
    colours = colours[lch_from_xyz(colours)[:, 0] > GAMUTS[inks].darkest + 2]
    assert len(colours) > 2000
    for intent in (Intent.RELATIVE, Intent.ABSOLUTE):
        assert apart(at(colours, intent, inks=inks), colours).max() < 0.3


def test_clipping_goes_to_the_nearest() -> None:
    """CIE 156's HPMINDE: of the colours of the same hue in the gamut, sought on a fine raster of the leaf, hardly any is nearer.

    By a unit for one colour in a hundred, by three and a half for none: dark blues, whose leaf is hollow.
    """
    gamut, colours = GAMUTS["CMYK"], source_colours(lifted=True)[::11]
    before, after = lch_from_xyz(colours), lch_from_xyz(at(colours, Intent.RELATIVE))
    lightness = np.linspace(gamut.darkest, gamut.lightest, 600)
    most = gamut.most_chroma(lightness[None], before[:, 2:])
    least = np.hypot(lightness - before[:, :1], before[:, 1:2] - np.minimum(before[:, 1:2], most)).min(axis=1)
    further = np.hypot(*(after - before)[:, :2].T) - least
    assert np.percentile(further, 99) < 1.0
    assert further.max() < 3.5


@every_print
def test_compression_spares_the_middle(inks: str) -> None:
    """Perceptual: colours of less than half the print's chroma and not near its ends stay; it changes printable ones little."""
    gamut, colours = GAMUTS[inks], source_colours(lifted=True)
    L, C, h = np.moveaxis(lch_from_xyz(colours), -1, 0)
    result = at(colours, Intent.PERCEPTUAL, inks=inks)
    middle = (gamut.most_chroma(L, h) / 2 > C) & (gamut.darkest + 15 < L) & (L < 85)
    assert middle.sum() > 500
    assert apart(result[middle], colours[middle]).max() < 0.5
    printable = gamut.holds(colours)
    assert apart(result[printable], colours[printable]).mean() < 0.3


def test_compression_keeps_steps_that_clipping_loses() -> None:
    """Of neighbours along sRGB's edge from half to full strength, perceptual leaves none closer than a 30th of their distance."""
    share = np.linspace(0.5, 1, 40)[:, None]
    for strong in ([0.0, 1, 0], [0.0, 0, 1], [1.0, 0, 1], [0.0, 1, 1]):
        colours = source(0.5 + share * (np.array(strong) - 0.5), lifted=True)
        steps = [np.linalg.norm(np.diff(lab_from_xyz(xyz), axis=0), axis=1) for xyz in (colours, at(colours, Intent.PERCEPTUAL))]
        assert (steps[1] > steps[0] / 30).all()


@every_print
def test_saturation_takes_cusps_to_cusps(inks: str) -> None:
    """sRGB's primaries and secondaries keep more chroma than perceptual leaves them, on average by a tenth."""
    colours = source(np.array([[1.0, 0, 0], [1, 1, 0], [0, 1, 0], [0, 1, 1], [0, 0, 1], [1, 0, 1]]), lifted=True)
    chroma = {intent: lch_from_xyz(at(colours, intent, inks=inks))[:, 1] for intent in KINDS}
    assert (chroma[Intent.SATURATION] / chroma[Intent.PERCEPTUAL]).mean() > 1.1
    assert (chroma[Intent.SATURATION] >= 0.97 * chroma[Intent.PERCEPTUAL]).all()


def ramps() -> dict[str, Floats]:
    """sRGB ramps in 8-bit steps: from black, white and gray to the six strong colours, and two hue circles."""
    step = np.linspace(0, 1, 256)[:, None]
    made = {}
    for name, strong in {"red": 0.0, "yellow": 1 / 6, "green": 1 / 3, "cyan": 0.5, "blue": 2 / 3, "magenta": 5 / 6}.items():
        rgb = np.array(colorsys.hsv_to_rgb(strong, 1, 1))
        made |= {f"{name} from {start}": start + step * (rgb - start) for start in (0, 0.5, 1)}
    for saturation, value in ((1.0, 1.0), (0.5, 0.8)):
        circle = [colorsys.hsv_to_rgb(hue, saturation, value) for hue in np.linspace(0, 1, 6 * 256)]
        made[f"circle of {saturation} {value}"] = np.array(circle)
    return made


@every_print
@pytest.mark.parametrize(
    ("intent", "longest", "sharpest"), [(Intent.PERCEPTUAL, 0.8, 0.3), (Intent.RELATIVE, 1.0, 1.3), (Intent.SATURATION, 1.2, 0.8)]
)
def test_ramps_do_not_band(intent: Intent, longest: float, sharpest: float, inks: str) -> None:
    """Of neighbours an 8-bit step apart, how far apart they end, and how much one step may differ from the next, in units.

    The source's own steps are 0.4 at most, and differ by 0.26 at most (a corner of its hue circle).
    """
    for name, rgb in ramps().items():
        steps = np.diff(lab_from_xyz(at(source(rgb, lifted=True), intent, inks=inks)), axis=0)
        assert np.linalg.norm(steps, axis=1).max() < longest, name
        assert np.linalg.norm(np.diff(steps, axis=0), axis=1).max() < sharpest, name


@every_print
@pytest.mark.parametrize(("intent", "most"), [(Intent.PERCEPTUAL, 5.0), (Intent.RELATIVE, 12.0), (Intent.SATURATION, 12.0)])
def test_neighbours_stay_neighbours(intent: Intent, most: float, inks: str) -> None:
    """Colours of the source 0.05 units apart are never moved further apart than so many times."""
    rng = np.random.default_rng(4)
    before = lab_from_xyz(source(rng.random((20_000, 3)), lifted=True))
    way = rng.normal(size=before.shape)
    beside = before + 0.05 * way / np.linalg.norm(way, axis=1)[:, None]
    moved = [lab_from_xyz(at(xyz_of_lab(lab), intent, inks=inks)) for lab in (before, beside)]
    assert np.linalg.norm(moved[1] - moved[0], axis=1).max() < 0.05 * most


@every_print
def test_compression_does_not_fold(inks: str) -> None:
    """Perceptual keeps the orientation of every leaf: lightness by chroma, but for 7 of 20,000 colours, at sRGB's very edge."""
    rng = np.random.default_rng(5)
    rgb = rng.random((20_000, 3))
    lch = lch_from_xyz(source(rgb, lifted=True))
    step = 0.02
    here, lighter, stronger = (
        lch_from_xyz(at(xyz_from_lch(lch + by), Intent.PERCEPTUAL, inks=inks))[:, :2]
        for by in (np.zeros(3), np.array([step, 0, 0]), np.array([0, step, 0]))
    )
    area = np.linalg.det(np.stack([lighter - here, stronger - here], axis=-1) / step)
    folded = area < -1e-3
    assert folded.sum() < 12
    assert srgb.decode(rgb[folded]).min(axis=1).max() < 0.02


@settings(max_examples=60, deadline=None)
@given(st.floats(-0.1, 1.3), st.floats(-0.1, 1.3), st.floats(-0.1, 1.3), st.sampled_from(list(Intent)))
def test_any_colour_ends_in_the_gamut(red: float, green: float, blue: float, intent: Intent) -> None:
    """Also one that no source can show."""
    xyz = np.array([red, green, blue]) @ srgb.TO_XYZ.T
    result = at(xyz, intent)
    assert result.shape == (3,)
    assert GAMUTS["CMYK"].holds(result, tolerance=1.0)


def test_black_ink_alone_prints_grays() -> None:
    """Any intent makes a colour the gray as light as it, or the darkest there is."""
    gamut = printable_boundary(nominal_model(("K",)), limit=1.0)
    colours = source_colours(lifted=False)
    for intent in Intent:
        before, after = lch_from_xyz(colours), lch_from_xyz(mapped(colours, gamut=gamut, intent=intent, source=WHOLE))
        assert after[:, 1].max() < 1e-6
        assert after[:, 0] == pytest.approx(np.maximum(before[:, 0], gamut.darkest), abs=0.2)


def xyz_of_lab(lab: Floats) -> Floats:
    """XYZ (m, 3) of lightness, a and b (m, 3)."""
    L, a, b = np.moveaxis(lab, -1, 0)
    return xyz_from_lch(np.stack([L, np.hypot(a, b), np.degrees(np.arctan2(b, a)) % 360], axis=-1))
