"""White under each colour: full where it shows, less where nobody sees, and never without film."""

from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from looking import Build, miss, opaque, seen
from numpy.typing import NDArray
from scipy.optimize import brentq
from scipy.spatial.distance import cdist

from filmhand.colour.charted import ChartedModel
from filmhand.colour.cielab import D50_WHITE, lab_from_xyz
from filmhand.colour.opacity import NOMINAL, Opacity
from filmhand.colour.printer_tone import printer_tone
from filmhand.colour.srgb import xyz_of_hex
from filmhand.rules import Rule, UnderbaseRules
from filmhand.separation.axes import nodes
from filmhand.separation.table import SeparationTable, build_table
from filmhand.separation.underbase import Film, Underbase, evened, least_white

Floats = NDArray[np.float64]

BLACK, RED, SAND, WHITE = "#1b1b1d", "#c4152b", "#f1ebdd", "#ffffff"
GARMENTS = st.integers(0, 0xFFFFFF).map(lambda value: f"#{value:06x}")
N = 1.7
RGB = np.random.default_rng(11).integers(0, 256, (20000, 3), np.uint8)


def underbase_on(garment: str, *, second_white: bool = False, **rules: float) -> Underbase:
    """The white of a rule on a garment, of the nominal white ink."""
    rule = UnderbaseRules.model_validate(rules)
    return Underbase.of(rule, opacity=NOMINAL, garment=xyz_of_hex(garment), second_white=second_white)


def films(count: int, *, slack: float = np.inf) -> Film:
    """Random printed colours and coverages, wanted as they look over full film white."""
    rng = np.random.default_rng(count)
    colours = D50_WHITE * rng.random((count, 3)) ** 2
    return Film(colours, rng.random(count), colours, np.full(count, slack), slack, N)


def looks(film: Film, white: Floats | float, garment: str) -> Floats:
    """XYZ (m, 3) of the films over white, relative to the charts' film white: the mixing equation, told apart."""
    ground = xyz_of_hex(garment)
    volume = np.full(len(film.coverage), white)
    bare, laid = ground ** (1 / N), (film.colours * NOMINAL.share(volume, garment=ground)) ** (1 / N)
    return np.asarray(((1 - film.coverage[:, None]) * bare + film.coverage[:, None] * laid) ** N)


def changed(film: Film, white: Floats, underbase: Underbase, garment: str) -> Floats:
    """ΔE00 (m,) that white makes against the fullest, both relative to the fullest white on the garment."""
    most = NOMINAL.share(underbase.most, garment=xyz_of_hex(garment))
    return miss(looks(film, white, garment) / most, looks(film, underbase.most, garment) / most)


def at_nodes(table: SeparationTable, model: ChartedModel, garment: str, white: Floats | float) -> Floats:
    """XYZ (m, 3) at the nodes with film, as `seen`, but of the table's own numbers: no 8 bits, no interpolation."""
    coverage, *times = table.values.reshape(-1, table.values.shape[-1]).astype(float).T
    film = coverage > 0
    tones = (np.stack(times, axis=-1) / np.maximum(coverage, 1e-9)[:, None])[film]
    ground = xyz_of_hex(garment)
    volume = np.broadcast_to(white, table.white.shape).reshape(-1)[film]
    laid = model.xyz(printer_tone(model).amounts(tones, inks=model.inks)) * model.opacity.share(volume, garment=ground)
    share, n = coverage[film, None], model.yule_nielsen
    return np.asarray(((1 - share) * ground ** (1 / n) + share * laid ** (1 / n)) ** n / table.film_share)


def test_gray_over_dots_of_white_by_the_formula_alone() -> None:
    """White that is only dots on a black garment keeps the share w of the light; of CIEDE2000 grays leave the lightness part
    (Sharma, Wu and Dalal 2005), so that w is the root of one equation."""
    opaque_white = Opacity(infinite=np.ones(3), scatter=np.full(3, 1e6), chart_ground=D50_WHITE)
    underbase = Underbase(opaque_white, np.zeros(3), least=0.0, density=1.0, most=1.0, tolerance=1.0)
    light = np.array([0.02, 0.05, 0.1])  # L* 15 to 38
    film = Film(light[:, None] * D50_WHITE, np.ones(3), np.zeros((3, 3)), np.full(3, np.inf), np.inf, N)

    def too_far(w: float, full: float) -> float:
        first, second = 116 * np.cbrt(full) - 16, 116 * np.cbrt(w * full) - 16
        middle = (first + second) / 2 - 50
        return (first - second) / (1 + 0.015 * middle**2 / np.sqrt(20 + middle**2)) - 1.0

    expected = [brentq(too_far, 0.5, 1.0, args=(full,)) for full in light]
    assert least_white(film, underbase) == pytest.approx(expected, abs=1 / 256)


@settings(max_examples=30, deadline=None)
@given(GARMENTS, st.sampled_from([0.3, 1.0, 3.0]), st.booleans())
def test_thin_white_keeps_the_colour_on_any_garment(garment: str, tolerance: float, second: bool) -> None:
    """Against the fullest white no colour changes by more than the tolerance; white stays within its bounds."""
    underbase, film = underbase_on(garment, second_white=second, tolerance=tolerance), films(400)
    white = least_white(film, underbase)
    assert changed(film, white, underbase, garment).max() <= tolerance + 1e-6
    assert white.min() >= 0.6
    assert white.max() <= 1 + second


@settings(max_examples=20, deadline=None)
@given(GARMENTS, st.booleans())
def test_more_tolerance_never_takes_more_white(garment: str, second: bool) -> None:
    """At no colour; none at all is the fullest white everywhere."""
    film = films(300, slack=2.0)
    found = [
        least_white(film, underbase_on(garment, second_white=second, tolerance=tolerance)) for tolerance in (0, 0.5, 1, 2, 5)
    ]
    assert (found[0] == 1 + second).all()
    for more, less in pairwise(found):
        assert (less <= more + 1 / 256).all()


@settings(max_examples=20, deadline=None)
@given(GARMENTS)
def test_what_is_promised_is_not_spent_twice(garment: str) -> None:
    """Colours that may be missed by 0.4 are, over thin white, missed by no more; those that are anyway, not one bit further."""
    underbase, film = underbase_on(garment, tolerance=3), films(300, slack=0.4)
    most = NOMINAL.share(1.0, garment=xyz_of_hex(garment))
    full = looks(film, 1.0, garment) / most
    wanted = full * np.random.default_rng(1).uniform(0.97, 1.0, (300, 1))
    film = film._replace(wanted=wanted)
    missed = miss(looks(film, least_white(film, underbase), garment) / most, wanted)
    assert (missed <= np.maximum(0.4, miss(full, wanted)) + 1e-6).all()


@pytest.mark.parametrize(("density", "least", "expected"), [(100, 70, 0.7), (80, 60, 0.6), (50, 60, 0.5)])
def test_the_least_density_is_kept(density: float, least: float, expected: float) -> None:
    """However dark the colour: never less than the rule's least, nor more than its density."""
    white = least_white(films(500), underbase_on(BLACK, density=density, least_density=least, tolerance=10))
    assert white.min() == pytest.approx(expected)
    assert white.max() <= density / 100


@pytest.mark.parametrize("garment", [BLACK, RED, SAND, WHITE])
def test_the_second_white_is_laid_only_where_one_shows(garment: str) -> None:
    """Wherever there is any of it, one layer alone would be seen; none on a white garment and on sand."""
    underbase, film = underbase_on(garment, second_white=True), films(2000)
    white = least_white(film, underbase)
    second = white > underbase.density
    one = np.full(2000, underbase.density)
    assert (changed(film, one, underbase, garment)[second] > underbase.tolerance).all()
    assert second.any() == (garment in {BLACK, RED})


@pytest.mark.parametrize("garment", [BLACK, RED, SAND, WHITE])
@pytest.mark.parametrize("strength", [0, 1])
def test_full_under_light_colours_alone(coarse: Build, model: ChartedModel, garment: str, strength: float) -> None:
    """From L* 75 of the film's own colour on the white is whole; under dark colours it is less."""
    table = coarse(garment, knockout={"strength": strength})
    coverage, *times = table.values.reshape(-1, 5).T
    film = coverage > 0
    tones = np.stack(times, axis=-1)[film] / coverage[film, None]
    lightness = lab_from_xyz(model.xyz(printer_tone(model).amounts(tones, inks=model.inks)))[:, 0]
    white = table.white.ravel()[film]
    assert (white[lightness > 75.01] == 1).all()
    assert white[lightness < 30].mean() < 0.85


@pytest.mark.parametrize("garment", [BLACK, RED, SAND])
@pytest.mark.parametrize("second", [False, True])
def test_nobody_sees_it(coarse: Build, model: ChartedModel, garment: str, second: bool) -> None:
    """Thin white against the fullest, at nodes: within the tolerance."""
    for strength in (0, 1):
        table = coarse(garment, second_white=second, knockout={"strength": strength})
        exact = [at_nodes(table, model, garment, white) for white in (table.white.astype(float), table.most_white)]
        assert miss(*exact).max() <= 1.001  # the table is float32


@pytest.mark.parametrize("second", [False, True])
def test_nobody_sees_it_between_nodes(on_black: SeparationTable, model: ChartedModel, second: bool) -> None:
    """At random colours through full tables, in 8 bits: by ΔE00 0.15 more than the tolerance at most, and hardly ever by 0.05."""
    rule = Rule(title="t")
    on_red = build_table(None, model=model, garment=RED, rule=rule, second_white=second)
    for table, garment in ((on_black, BLACK), (on_red, RED)):
        full = seen(table, RGB, model=model, garment=garment, white=table.most_white)
        off = miss(seen(table, RGB, model=model, garment=garment), full)
        assert off.max() <= 1.15
        assert np.percentile(off, 99) <= 1.05


@pytest.mark.parametrize("garment", [BLACK, RED])
def test_no_white_without_film(coarse: Build, garment: str) -> None:
    """Where the garment is left bare or the artwork transparent there is no white; elsewhere never less than the least."""
    table = coarse(garment, knockout={"strength": 1}, second_white=True)
    pixels = opaque(np.concatenate([RGB, nodes(table.axes)]))
    pixels[0, ::7, 3] = 0
    _, coverage, white = table.apply(pixels)
    assert (coverage == 0).any()
    assert np.array_equal(coverage == 0, white == 0)
    assert white[coverage > 0].min() >= 0.6 * 255 - 0.5


def test_no_tolerance_is_full_white_everywhere(coarse: Build) -> None:
    """As the kernels have it too: one layer and the second, wherever there is film."""
    for second, most in ((False, 204), (True, 204 + 153)):
        table = coarse(BLACK, second_white=second, underbase={"tolerance": 0, "density": 80, "highlight": 60})
        assert table.grid.white_column == 0
        assert (table.apply(opaque(RGB))[2] == most).all()


def test_customers_white_is_the_white_on_the_garment(coarse: Build, model: ChartedModel) -> None:
    """White artwork is bare film, on black too, though a trace of the garment shows through it."""
    table = coarse("#000000", knockout={"strength": 1})
    inks, coverage, white = table.apply(opaque(np.full((1, 3), 255, np.uint8)))
    assert (int(inks.max()), int(coverage[0, 0]), int(white[0, 0])) == (0, 255, 255)
    assert table.film_share == pytest.approx(NOMINAL.share(1.0, garment=np.zeros(3)))
    assert table.film_share.max() < 0.98


def test_evened_against_every_pair_of_nodes() -> None:
    """The greatest of all films' white less 0.1 for each 8 values of way along the axes; nodes without film do not count."""
    axis = np.array([0, 8, 16, 24, 27, 30, 40, 255], np.uint8)
    axes = (axis, axis[:6], axis[:5])
    rng = np.random.default_rng(2)
    white, film = 0.6 + 0.4 * rng.random((8, 6, 5)) ** 4, rng.random((8, 6, 5)) < 0.3
    places = np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3).astype(float)
    way = cdist(places, places[film.ravel()], "cityblock") * 0.1 / 8
    expected = np.maximum((white[film] - way).max(axis=1), white[film].min())
    assert np.abs(evened(white, film, axes).ravel() - expected).max() < 1e-12
    assert np.array_equal(evened(white, film & False, axes), white)


def test_evening_only_adds(coarse: Build) -> None:
    """Neighbouring nodes with film differ in white by no more than the slope: no contour shows in it."""
    table = coarse(BLACK)
    for i, axis in enumerate(table.axes):
        steps = np.abs(np.diff(table.white, axis=i))
        most = (np.diff(axis.astype(float)) * 0.1 / 8).reshape([-1 if j == i else 1 for j in range(3)])
        assert (steps <= most + 1e-6).all()
    assert replace(table, white=np.ones_like(table.white)).grid.white_column == 0
