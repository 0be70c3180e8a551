"""Coverage's screens: every island and every hole of a flat tone is at least the least, told by scipy's connected components."""

from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import label

from filmhand.halftone.choke import disc
from filmhand.halftone.screening import Screening, screening_for
from filmhand.rules import DotShape, Printer, Rule

CORNERS = np.ones((3, 3), int)
"""Dots that touch at a corner belong together."""
SIDES = np.array([[0, 1, 0], [1, 1, 1], [0, 1, 0]])
"""Only those that share a side do."""
TONES = (1, 2, 5, 12, 25, 40, 64, 90, 115, 128, 140, 165, 190, 210, 230, 243, 250, 253, 254)


@pytest.fixture(scope="module")
def cache(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the blue-noise tile is kept."""
    return tmp_path_factory.mktemp("cache")


def screening(cache: Path, coverage: dict[str, object], resolution: tuple[int, int], **lengths: str) -> Screening:
    """The screening of a rule with this coverage and these least dots and holes."""
    rule = Rule.model_validate({"title": "t", "halftone": {"coverage": coverage, **lengths}})
    printer = Printer.model_validate({"name": "p", "film_width": "600 mm", "resolution": resolution})
    return screening_for(rule, printer=printer, cache=cache)


def area(across_px: tuple[float, float]) -> int:
    """Dots of the disc so wide and high."""
    rows = 2 * disc((across_px[0] / 2, across_px[1] / 2)) + 1
    return int(2 * rows.sum() - rows[0])


def smallest(dots: NDArray[np.bool_], touching: NDArray[np.int_]) -> int:
    """Dots of the smallest component on the torus: of those that reach into the middle one of three by three tiles."""
    height, width = dots.shape
    numbered, found = label(np.tile(dots, (3, 3)), structure=touching)
    if not found:
        return dots.size
    inside = np.unique(numbered[height : 2 * height, width : 2 * width])
    return int(np.bincount(numbered.ravel())[inside[inside > 0]].min(initial=dots.size))


@pytest.mark.parametrize("shape", DotShape)
@pytest.mark.parametrize(
    ("lpi", "angle", "resolution"),
    [(45, 22.5, (720, 720)), (30, 52.5, (720, 720)), (45, 22.5, (720, 1440)), (60, 15, (600, 600)), (75, 45, (720, 720))],
)
def test_islands_and_holes_hold(cache: Path, shape: DotShape, lpi: float, angle: float, resolution: tuple[int, int]) -> None:
    """AM of every shape, least dot 0.25 mm, least hole 0.2 mm: no smaller ones in 19 flat tones, the mean within 0.2 %."""
    made = screening(cache, {"screen": "am", "lpi": lpi, "angle": angle, "shape": shape}, resolution)
    dot, hole = area(made.least_dot_px), area(made.least_hole_px)
    for tone in TONES:
        laid = tone > made.coverage
        assert smallest(laid, SIDES) >= dot, tone
        assert smallest(~laid, SIDES) >= hole, tone
        assert abs(laid.mean() - tone / 255) <= 0.002


def test_dots_take_the_room(cache: Path) -> None:
    """At 85 lines an inch and 720 dots a least dot and a least hole overlap: dots hold all the same, the mean within 0.2 %."""
    made = screening(cache, {"screen": "am", "lpi": 85, "angle": 45}, (720, 720))
    for tone in TONES:
        laid = tone > made.coverage
        assert smallest(laid, SIDES) >= area(made.least_dot_px), tone
        assert abs(laid.mean() - tone / 255) <= 0.002


@pytest.mark.parametrize("resolution", [(600, 600), (720, 1200)])
def test_blue_noise_blocks_hold(cache: Path, resolution: tuple[int, int]) -> None:
    """Scattered coverage: blocks as wide as the least dot and hole, no smaller islands or holes, the mean within 0.005 %."""
    made = screening(cache, {"screen": "blue-noise"}, resolution)
    limit = max(area(made.least_dot_px), area(made.least_hole_px))
    for tone in TONES[1::5]:
        laid = tone > made.coverage
        assert smallest(laid, SIDES) >= limit
        assert smallest(~laid, SIDES) >= limit
        assert abs(laid.mean() - tone / 255) <= 0.00005


def test_large_blocks_have_a_small_tile(cache: Path) -> None:
    """At 2880 dots an inch a block is 29 dots wide; the tile stays below 4 million dots."""
    made = screening(cache, {"screen": "blue-noise"}, (2880, 2880))
    assert made.coverage.size < 1 << 22
    assert smallest(made.coverage < 3, CORNERS) >= area(made.least_dot_px)


def test_light_tones_have_whole_dots_only(cache: Path) -> None:
    """Below the tone at which every cell has its least dot, each island is exactly the disc, and as many as the tone wants."""
    made = screening(cache, {"screen": "am", "lpi": 45, "angle": 22.5}, (720, 720))
    dot = area(made.least_dot_px)
    for tone in (4, 10, 20, 30):
        numbered, found = label(tone > made.coverage, structure=CORNERS)
        sizes = np.bincount(numbered.ravel())[1:]
        whole = sizes == dot
        assert whole.mean() > 0.8  # the tile's edge cuts the others
        assert sizes.sum() % dot == 0
        assert sizes.sum() / dot == pytest.approx(tone / 255 * made.coverage.size / dot, abs=0.51 + 1e-9)
        assert found >= sizes.sum() / dot


def test_no_least_no_change(cache: Path) -> None:
    """Without a least dot or hole single dots are laid, as many as the tone wants."""
    made = screening(cache, {"screen": "am"}, (720, 720), least_dot="0 mm", least_hole="0 mm")
    means = np.array([(tone > made.coverage).mean() for tone in range(256)])
    assert np.abs(means - np.arange(256) / 255).max() <= 2 / made.coverage.size
