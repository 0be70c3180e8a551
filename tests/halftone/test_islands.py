"""Least dot and least hole: what is left is counted by scipy's connected components (scipy.ndimage.label, four neighbours)."""

from functools import lru_cache

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import ndimage
from test_choke import to_dots, to_words

from filmhand.halftone.choke import Disc, disc
from filmhand.halftone.islands import dots_of, enforced

Dots = NDArray[np.bool_]

LEAST_DOT, LEAST_HOLE = disc((7.09 / 2, 7.09 / 2)), disc((5.67 / 2, 5.67 / 2))
"""0.25 mm and 0.2 mm at 720 dpi."""
CHANCE = (np.random.default_rng(0).permutation(64 * 64) % 255).reshape(64, 64).astype(np.uint8)


def made_fit(film: Dots, screened: Dots, least_dot: Disc = LEAST_DOT, least_hole: Disc = LEAST_HOLE) -> Dots:
    """What `enforced` makes of film."""
    width = film.shape[1]
    words = to_words(film), to_words(screened)
    before = [plane.copy() for plane in words]
    fit = enforced(*words, least_dot=least_dot, least_hole=least_hole, chance=CHANCE, width=width)
    assert all(np.array_equal(plane, old) for plane, old in zip(words, before, strict=True))  # no argument is changed
    assert np.array_equal(to_words(to_dots(fit, width)), fit)  # no dot past a row's end
    return to_dots(fit, width)


def sizes(dots: Dots) -> NDArray[np.int64]:
    """Dots of each 4-connected island, by scipy."""
    labels, _ = ndimage.label(dots)
    return np.bincount(labels.ravel())[1:]


def hole_sizes(film: Dots) -> NDArray[np.int64]:
    """Dots of each hole: a frame of bare dots makes all that touches the edge one region, the first."""
    labels, _ = ndimage.label(np.pad(~film, 1, constant_values=True))
    return np.bincount(labels.ravel())[2:]


def blobs(draw: st.DrawFn) -> Dots:
    """Noise from single dots to large blobs, sparse to dense."""
    shape = draw(st.integers(15, 150)), draw(st.integers(15, 150))
    noise = np.random.default_rng(draw(st.integers(0, 10**6))).random(shape)
    smooth = ndimage.gaussian_filter(noise, draw(st.sampled_from([0, 0.5, 0.8, 1.2, 2, 4])))
    return np.asarray(smooth > np.quantile(smooth, draw(st.floats(0.02, 0.98))))


def lines(draw: st.DrawFn) -> Dots:
    """Thin lines at any angle, some of them along the array's edges; or thin gaps."""
    shape = draw(st.integers(15, 150)), draw(st.integers(15, 150))
    y, x = np.mgrid[: shape[0], : shape[1]]
    film = np.zeros(shape, bool)
    for _ in range(draw(st.integers(1, 4))):
        turn, wide = draw(st.floats(0, np.pi)), draw(st.floats(0.6, 4))
        film |= (x * np.cos(turn) + y * np.sin(turn)) % draw(st.floats(5, 40)) < wide
    film[0], film[:, -1] = draw(st.booleans()), draw(st.booleans())
    return film ^ draw(st.booleans())


def am_ramp(draw: st.DrawFn) -> Dots:
    """A ramp of tones, screened at any angle and pitch."""
    shape = draw(st.integers(15, 150)), draw(st.integers(15, 150))
    return am(
        np.add.outer(np.linspace(0, 1, shape[0]), np.linspace(0, 1, shape[1])) / 2, draw(st.floats(7, 30)), draw(st.floats(0, 90))
    )


def am(tone: NDArray[np.floating], pitch: float | tuple[float, float], angle: float) -> Dots:
    """Tones 0 to 1 through a round-dot screen. `pitch`: dots a cell, across and down."""
    return np.asarray(onsets(tone.shape, pitch if isinstance(pitch, tuple) else (pitch, pitch), angle) < tone)


@lru_cache(maxsize=1)
def onsets(shape: tuple[int, int], pitch: tuple[float, float], angle: float) -> NDArray[np.float32]:
    """The tone from which on each dot is laid: the cosine spot (common practice, no source), its values ranked evenly."""
    y, x = np.mgrid[: shape[0], : shape[1]] + 0.137
    x, y, turn = x / pitch[0], y / pitch[1], np.radians(angle)
    u, v = x * np.cos(turn) + y * np.sin(turn), y * np.cos(turn) - x * np.sin(turn)
    spot = np.cos(2 * np.pi * u) + np.cos(2 * np.pi * v)
    evenly = np.cos(2 * np.pi * np.linspace(0, 1, 512, endpoint=False))
    order = np.sort(np.add.outer(evenly, evenly).ravel())
    steps = np.linspace(-2, 2, 4097)
    share = np.searchsorted(order, steps) / order.size
    return np.asarray(1 - np.interp(spot, steps, share), np.float32)


@st.composite
def films(draw: st.DrawFn) -> tuple[Dots, Dots]:
    """Hard film, and which of its dots a screen decided: all, none, or parts."""
    film = draw(st.sampled_from([blobs, lines, am_ramp]))(draw)
    noise = ndimage.gaussian_filter(np.random.default_rng(1).random(film.shape), 4)
    return film, np.asarray(noise > np.quantile(noise, draw(st.sampled_from([0, 0.5, 1]))))


@settings(max_examples=300, deadline=None)
@given(films(), st.sampled_from([(LEAST_DOT, LEAST_HOLE), (disc((2, 4)), disc((3, 6))), (disc((1, 1)), disc((5, 5)))]))
def test_nothing_under_the_limits_remains(made: tuple[Dots, Dots], least: tuple[Disc, Disc]) -> None:
    """Whatever the film: no island and no hole has fewer dots than its disc."""
    film, screened = made
    fit = made_fit(film, screened, *least)
    assert sizes(fit).min(initial=1 << 30) >= dots_of(least[0])
    assert hole_sizes(fit).min(initial=1 << 30) >= dots_of(least[1])


@settings(max_examples=100, deadline=None)
@given(films())
def test_it_is_settled_at_once(made: tuple[Dots, Dots]) -> None:
    """What is fit already stays as it is, dot for dot."""
    fit = made_fit(*made)
    assert np.array_equal(made_fit(fit, made[1]), fit)


@pytest.mark.parametrize(
    ("radius", "dots"), [((3.545, 3.545), 37), ((2.835, 2.835), 25), ((3.545, 7.09), 77), ((1, 1), 5), ((0, 0), 1)]
)
def test_dots_of_a_disc(radius: tuple[float, float], dots: int) -> None:
    """Whole dots within the ellipse, counted one by one."""
    y, x = np.mgrid[-9:10, -9:10]
    inside = (x / max(radius[0], 1e-9)) ** 2 + (y / max(radius[1], 1e-9)) ** 2 <= 1
    assert dots_of(disc(radius)) == inside.sum() == dots


def test_large_islands_and_holes_stay() -> None:
    """Islands and holes of the least size and more, of any shape, are not touched, though small ones lie among them."""
    film = np.zeros((120, 200), bool)
    film[10, 20 : 20 + 37] = True  # a line of just enough dots
    film[40:90, 30:120] = True
    film[50:55, 60:65] = False  # a hole of just enough
    kept = film.copy()
    film[100, 150], film[70, 80] = True, False  # a screen's speck and pinhole, whose chance at those places is small
    fit = made_fit(film, np.ones_like(film))
    assert np.array_equal(fit[:95, :], kept[:95, :])
    assert sizes(fit).size == 2


@pytest.mark.parametrize("place", [(30, 40), (0, 0), (0, 57), (59, 99), (31, 99), (59, 3)])
def test_own_detail_grows(place: tuple[int, int]) -> None:
    """A dot of the artwork's own becomes the whole disc about it; at an edge the disc is moved inwards and keeps all its dots."""
    film = np.zeros((60, 100), bool)
    film[place] = True
    fit = made_fit(film, np.zeros_like(film))
    assert fit[place]
    y, x = np.mgrid[-3:4, -3:4]
    assert fit.sum() >= 37
    middle = np.clip(place, 3, np.array(film.shape) - 4)
    around = fit[middle[0] - 3 : middle[0] + 4, middle[1] - 3 : middle[1] + 4]
    assert np.array_equal(around & (y**2 + x**2 <= 3.545**2), y**2 + x**2 <= 3.545**2)
    if place == (30, 40):
        assert fit.sum() == 37


def test_own_pinhole_opens() -> None:
    """A bare dot of the artwork's own in solid film becomes the whole least hole."""
    film = np.zeros((60, 100), bool)
    film[10:50, 10:90] = True
    film[30, 40] = False
    fit = made_fit(film, np.zeros_like(film))
    assert list(hole_sizes(fit)) == [25]
    assert fit.sum() == 40 * 80 - 25


def test_own_line_keeps_its_dots() -> None:
    """A short hairline of the artwork's own gets the disc, and no dot of it is lost."""
    film = np.zeros((60, 100), bool)
    film[30, 30:60] = True
    fit = made_fit(film, np.zeros_like(film))
    assert (fit & film).sum() == 30
    assert fit.sum() == 37 + 30 - 7


def test_a_chance_for_each_screened_island() -> None:
    """Islands of a screen far apart: of n dots, they grow to the disc of 37 with the chance n / 37, or go."""
    film = np.zeros((40 * 200, 40 * 200 // 4), bool)
    film[20::200, 20::40] = True
    film[20::200, 21::40] = True  # islands of two dots
    fit = made_fit(film, np.ones_like(film))
    left, before = sizes(fit), sizes(film).size
    assert set(left) == {37}
    assert left.size / before == pytest.approx(2 / 37, abs=3 * np.sqrt(2 / 37 / before))


def test_what_lies_elsewhere_does_not_matter() -> None:
    """A patch comes out the same whatever lies a few millimetres from it."""
    rng = np.random.default_rng(5)
    patch = ndimage.gaussian_filter(rng.random((100, 120)), 1) > 0.55
    alone = np.zeros((600, 640), bool)
    alone[300:400, 260:380] = patch
    screened = np.ones_like(alone)
    outcome = made_fit(alone, screened)[290:410, 250:390]
    for step in (0, 17):
        film = alone.copy()
        film[20 + step : 120 + step, 30 + step : 430 + step] = ndimage.gaussian_filter(rng.random((100, 400)), 1) > 0.55
        film[450 + step : 550, 300 + step :] = True
        film[250:450, 20 + step : 120] = ndimage.gaussian_filter(rng.random((200, 100 - step)), 1) > 0.5
        assert np.array_equal(made_fit(film, screened)[290:410, 250:390], outcome)


def test_too_small_for_the_disc() -> None:
    """An array that has no room for a disc is left as it is; one that has just room for it is not."""
    dot = np.zeros((6, 40), bool)
    dot[3, 20] = True
    own = np.zeros((7, 40), bool)
    assert np.array_equal(made_fit(dot, own[:6]), dot)
    assert made_fit(np.pad(dot, ((0, 1), (0, 0))), own).sum() == 37
    assert made_fit(np.zeros((0, 40), bool), np.zeros((0, 40), bool)).size == 0


@pytest.mark.parametrize("width", [63, 64, 65, 127, 128])
def test_width_of_rows(width: int) -> None:
    """Words' ends are no edges, and a row's end is one, wherever it is in its word."""
    film = np.zeros((30, width), bool)
    film[4:9, 10:width] = True
    film[20, width - 1] = True
    fit = made_fit(film, np.zeros_like(film))
    assert np.array_equal(fit[:12], film[:12])
    assert fit[14:, width - 7 :].sum() == fit[14:].sum() >= 37
