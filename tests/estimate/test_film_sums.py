"""Ink and film of a design added up, against plain numpy, circles on paper, and scipy's exact distances."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import ndimage

from filmhand.artwork.model import Artwork, Kind
from filmhand.rules import Rule
from filmhand.separation import film_sums as summing
from filmhand.separation.film_sums import Counting, Islands, film_sums
from filmhand.separation.full_film import full_film_rule, full_film_sums, is_full_film
from filmhand.separation.model import Separation

Bytes = NDArray[np.uint8]

PLANES = ("C", "K", "W", "W2")
STRAIGHT = np.arange(256) / 255
KEPT = Islands(STRAIGHT, STRAIGHT)


def counting(choke_px: float = 0.0) -> Counting:
    """Curves of four shapes, and a choke that is the same both ways."""
    return Counting(
        {plane: STRAIGHT**power for plane, power in zip(PLANES, (1.0, 2.0, 0.5, 1.5), strict=True)}, (choke_px,) * 2, KEPT
    )


def separation(coverage: Bytes, planes: Bytes | None = None) -> Separation:
    """A design of such coverage, its planes full where none are given."""
    return Separation(PLANES, np.full((4, *coverage.shape), 255, np.uint8) if planes is None else planes, coverage, 10, 10)


def white(coverage: Bytes, choke_px: float) -> float:
    """Pixels of white under full tones."""
    return film_sums(separation(coverage), coverage, counting(choke_px)).ink["W"]


def disc(radius: float, side: int, soft: float = 1.0) -> Bytes:
    """A disc's coverage, its edge smoothed over so many pixels."""
    y, x = np.mgrid[:side, :side] - (side - 1) / 2
    return np.rint(255 * np.clip((radius - np.hypot(y, x)) / soft + 0.5, 0, 1)).astype(np.uint8)


def test_sums_of_random_planes() -> None:
    """Amount by the plane's own curve, times coverage, in 600 rows, more than are worked at a time; artwork is its alpha."""
    rng = np.random.default_rng(5)
    planes, coverage = rng.integers(0, 256, (4, 600, 70), dtype=np.uint8), rng.integers(0, 256, (600, 70), dtype=np.uint8)
    alpha = rng.integers(0, 256, (600, 70), dtype=np.uint8)
    sums = film_sums(separation(coverage, planes), alpha, counting())
    assert sums.artwork == pytest.approx(alpha.astype(float).sum() / 255)
    assert sums.film == pytest.approx(coverage.astype(float).sum() / 255)
    for plane, tones, power in zip(PLANES, planes, (1.0, 2.0, 0.5, 1.5), strict=True):
        assert sums.ink[plane] == pytest.approx(((tones / 255) ** power * (coverage / 255)).sum())


def test_bare_rows_add_nothing() -> None:
    """600 rows of film among 1200: as if the others were not, but for the artwork that the garment shows there."""
    coverage = np.zeros((1200, 30), np.uint8)
    coverage[300:900] = 200
    sums = film_sums(separation(coverage), np.full((1200, 30), 255, np.uint8), counting())
    assert (sums.artwork, sums.film) == pytest.approx((1200 * 30, 600 * 30 * 200 / 255))


@pytest.mark.parametrize("choke_px", [0.6, 1.0, 1.77, 3.0, 4.25])
@pytest.mark.parametrize("soft", [0.01, 1.0, 3.0])
def test_white_under_a_disc(choke_px: float, soft: float) -> None:
    """Pulled in all around: π(R − r)² within 0.6 % of the disc, whatever smooths its edge, which it meets at one half."""
    found = white(disc(150, 330, soft), choke_px)
    assert found == pytest.approx(np.pi * (150 - choke_px) ** 2, abs=0.006 * np.pi * 150**2)


def test_white_under_a_bar() -> None:
    """A bar of 12 pixels less 1.75 on either side is 8.5; one of 2 pixels keeps no white. Film to the very border ends there."""
    coverage = np.zeros((400, 40), np.uint8)
    coverage[:, 5:17] = 255
    coverage[:, 30:32] = 255
    assert white(coverage, 1.75) == pytest.approx(8.5 * (400 - 3.5), rel=0.002)


def test_white_by_exact_distances() -> None:
    """A choke of whole pixels leaves the pixels further in than that, by scipy's distance transform, band by band."""
    rng = np.random.default_rng(8)
    shapes = ndimage.gaussian_filter(rng.standard_normal((700, 300)), 6) > 0
    coverage = np.where(shapes, 255, 0).astype(np.uint8)
    inside = ndimage.distance_transform_edt(np.pad(shapes, 1))[1:-1, 1:-1]
    assert white(coverage, 3.0) == pytest.approx((inside > 3).sum(), abs=0.1)


def test_soft_film_keeps_its_white() -> None:
    """A fade over 500 pixels is no edge: its white is its film's, but where it starts and at its sides."""
    coverage = np.broadcast_to(np.linspace(0, 255, 500).astype(np.uint8)[:, None], (500, 400)).copy()
    film = coverage.astype(float).sum() / 255
    assert film * (1 - 2 * 2 / 400) * 0.99 < white(coverage, 2.0) < film


def test_islands_keep_a_part_of_their_white() -> None:
    """By the tone of coverage: less white than film of a quarter and a half, and more film than asked."""
    film, white = (np.interp(np.arange(256), [0, 64, 128, 255], share) for share in ([0, 0.3, 0.6, 1], [0, 0.2, 0.45, 1]))
    coverage = np.repeat(np.array([0, 64, 128], np.uint8), 100)[None].repeat(20, axis=0)
    islands = Islands(film, white)
    sums = film_sums(separation(coverage), coverage, replace(counting(), islands=islands))
    assert sums.ink["W"] == pytest.approx(2000 * (0.2 + 0.45))
    assert sums.film == pytest.approx(2000 * (0.3 + 0.6))
    assert sums.ink["C"] == pytest.approx(sums.film)


def test_edges_have_no_islands() -> None:
    """A smoothed edge counts as its coverage, whatever the screen would make of that: a disc's film is its area."""
    coverage, most = disc(40, 100), np.append(0, np.ones(255))
    sums = film_sums(separation(coverage), coverage, replace(counting(), islands=Islands(most, most)))
    assert sums.film == pytest.approx(np.pi * 40**2, rel=1e-3)


@pytest.mark.parametrize("rows", [16, 100])
def test_bands_join(monkeypatch: pytest.MonkeyPatch, rows: int) -> None:
    """Bands of any height come to the same as all at once."""
    rng = np.random.default_rng(2)
    coverage = np.clip(128 + 600 * ndimage.gaussian_filter(rng.standard_normal((300, 80)), 5), 0, 255).astype(np.uint8)
    monkeypatch.setattr(summing, "_ROWS", 1000)
    whole = white(coverage, 2.3)
    monkeypatch.setattr(summing, "_ROWS", rows)
    assert white(coverage, 2.3) == pytest.approx(whole, rel=1e-12)


def picture(alpha: Bytes) -> Artwork:
    """Artwork of random colours with such alpha."""
    rgb = np.random.default_rng(1).integers(0, 256, (*alpha.shape, 3), dtype=np.uint8)
    return Artwork(np.dstack([rgb, alpha]), None, None, Kind.PNG)


def by_its_red(artwork: Artwork) -> Separation:
    """A separation that can be checked by eye: every plane is the red, coverage is alpha."""
    return separation(artwork.pixels[..., 3].copy(), np.stack([artwork.pixels[..., 0]] * 4))


def test_full_film_is_solid_from_one_half() -> None:
    """Ink of all pixels at least half opaque, in full, and of no other; the artwork's area is its own alpha."""
    alpha = np.random.default_rng(3).integers(0, 256, (600, 50), dtype=np.uint8)
    artwork = picture(alpha)
    sums = full_film_sums(artwork, by_its_red, counting(), white_density=100)
    assert sums.artwork == pytest.approx(alpha.astype(float).sum() / 255)
    assert sums.film == (alpha >= 128).sum()
    assert sums.ink["C"] == pytest.approx((artwork.pixels[..., 0] / 255 * (alpha >= 128)).sum())
    assert (artwork.pixels[..., 3] == alpha).all()


def test_full_film_by_the_same_rule() -> None:
    """Only the knockout is taken from the rule."""
    rule = Rule.model_validate(
        {
            "title": "t",
            "knockout": {"strength": 0.7, "tolerance": 4},
            "underbase": {"tolerance": 2, "density": 80, "choke": "0.2 mm"},
        }
    )
    solid = full_film_rule(rule)
    assert solid.knockout.strength == 0
    assert (solid.underbase, solid.garment, solid.colour) == (rule.underbase, rule.garment, rule.colour)
    assert full_film_rule(solid) == solid


def test_white_of_full_film_is_even() -> None:
    """One tone of the first white under all colours, of the rule's density; a second white stays as it was separated."""
    artwork = picture(np.full((40, 50), 255, np.uint8))
    sums = full_film_sums(artwork, by_its_red, counting(), white_density=80)
    assert sums.ink["W"] == pytest.approx(40 * 50 * 0.8**0.5)
    assert sums.ink["W2"] == pytest.approx(((artwork.pixels[..., 0] / 255) ** 1.5).sum())


def test_what_is_full_film_already() -> None:
    """Opaque artwork by a rule that leaves nothing out needs no second separation; a soft pixel, or another rule, does."""
    plain = Rule.model_validate({"title": "t", "underbase": {"tolerance": 0}})
    opaque = picture(np.full((8, 8), 255, np.uint8))
    assert is_full_film(opaque, plain)
    assert not is_full_film(opaque, Rule.model_validate({"title": "t", "underbase": {"tolerance": 1}}))
    assert not is_full_film(
        opaque, Rule.model_validate({"title": "t", "knockout": {"strength": 0.5}, "underbase": {"tolerance": 0}})
    )
    soft = opaque.pixels.copy()
    soft[3, 3, 3] = 90
    assert not is_full_film(replace(opaque, pixels=soft), plain)
