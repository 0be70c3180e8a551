"""Film and white of screened islands, against circles on paper and scipy's distances."""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import ndimage

from filmhand.estimate.island_shares import island_shares
from filmhand.halftone.screening import Screening, screening_for
from filmhand.rules import Printer, Rule


@pytest.fixture(scope="module")
def screening(tmp_path_factory: pytest.TempPathFactory) -> Screening:
    """Some screening, whose coverage the tests replace."""
    return screening_for(Rule(title="t"), printer=Printer(name="p", film_width="60 mm"), cache=tmp_path_factory.mktemp("c"))


def round_dots(cell: int) -> NDArray[np.uint8]:
    """A tile with one dot that grows as a disc from its middle."""
    y, x = np.mgrid[:cell, :cell] - (cell - 1) / 2
    ranks = np.argsort(np.argsort((np.hypot(y, x) + 1e-6 * x).ravel(), kind="stable"))
    return np.floor(255 * ranks / ranks.size).astype(np.uint8).reshape(cell, cell)


def test_round_dots_lose_a_ring_or_gain_one(screening: Screening) -> None:
    """A disc of radius R keeps ((R − r) / R)² of its white, or has ((R + r) / R)² of film: within three points of a hundred."""
    dots = replace(screening, coverage=round_dots(120), island_choke_px=(4, 4))
    choked, spread = (island_shares(replace(dots, spreads=spreads)) for spreads in (False, True))
    for tone in (40, 80, 125):
        radius = np.sqrt(tone / 255 * 120**2 / np.pi)
        assert choked.white[tone] / choked.film[tone] == pytest.approx(((radius - 4) / radius) ** 2, abs=0.03)
        assert spread.film[tone] / spread.white[tone] == pytest.approx(((radius + 4) / radius) ** 2, abs=0.03)


@pytest.mark.parametrize("spreads", [False, True])
def test_by_exact_distances(screening: Screening, spreads: bool) -> None:
    """Tiles laid side by side: rims by scipy's distance transform, within the islands or about them."""
    tile = np.random.default_rng(4).permutation(48 * 32).reshape(48, 32)
    tile = ndimage.gaussian_filter(tile.astype(float), 3, mode="wrap").ravel()
    tile = np.floor(255 * np.argsort(np.argsort(tile)) / tile.size).astype(np.uint8).reshape(48, 32)
    shares = island_shares(replace(screening, coverage=tile, island_choke_px=(2.0, 2.0), spreads=spreads))
    for tone in (30, 100, 200, 250):
        islands = np.tile(tile < tone, (3, 3))
        own = islands[48:96, 32:64]
        inside = ndimage.distance_transform_edt(islands)[48:96, 32:64] > 2
        about = ndimage.distance_transform_edt(~islands)[48:96, 32:64] <= 2
        film, white = (about, own) if spreads else (own, inside)
        assert shares.film[tone] == pytest.approx(film.mean(), abs=1e-9)
        assert shares.white[tone] == pytest.approx(white.mean(), abs=1e-9)


def test_solid_film_and_no_choke_keep_all(screening: Screening) -> None:
    """At full coverage there is no island's edge; without a choke film and white are one."""
    dots = replace(screening, coverage=round_dots(40))
    assert island_shares(replace(dots, island_choke_px=(3, 3))).white[255] == 1
    plain = island_shares(replace(dots, island_choke_px=(0, 0)))
    assert np.array_equal(plain.film, plain.white)


def test_inks_go_beyond_white_where_that_is_not_seen(tmp_path: Path) -> None:
    """On black and red islands spread; on sand and white their white is choked."""
    printer = Printer(name="p", film_width="60 mm")
    for garment, spreads in (("#1b1b1d", True), ("#a3182a", True), ("#d8c8a8", False), ("#ffffff", False)):
        assert screening_for(Rule(title="t", garment=garment), printer=printer, cache=tmp_path).spreads == spreads
