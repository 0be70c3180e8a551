"""AM screens against the arithmetic of rational screens: whole cycles in a tile, exact tones, cells that take turns."""

import math

import numpy as np
import pytest

from filmhand.halftone.am import am_onsets
from filmhand.halftone.cell_order import cell_order
from filmhand.halftone.lattice import Lattice, cells_of, lattice_of
from filmhand.halftone.thresholds import thresholds
from filmhand.rules import DotShape, ScreenKind, ScreenRules

RESOLUTIONS = [(600, 600), (720, 720), (1440, 1440), (720, 1200), (720, 1440)]


def screen(lpi: float = 45, angle: float = 22.5, shape: DotShape = DotShape.ROUND) -> ScreenRules:
    """An AM screen."""
    return ScreenRules(screen=ScreenKind.AM, lpi=lpi, angle=angle, shape=shape)


def misses(lattice: Lattice, lpi: float, angle: float, resolution: tuple[int, int]) -> tuple[float, float]:
    """The greater misses of both waves: ruling as a fraction, angle in degrees. A wave of p cycles along W dots and q along H has
    p / W · dpi and q / H · dpi cycles an inch across and down."""
    ruling, turn = 0.0, 0.0
    for (p, q), asked in ((lattice.row, angle), (lattice.column, angle + 90)):
        across, down = p / lattice.width * resolution[0], q / lattice.height * resolution[1]
        ruling = max(ruling, abs(math.hypot(across, down) / lpi - 1))
        turn = max(turn, abs((math.degrees(math.atan2(down, across)) - asked + 180) % 360 - 180))
    return ruling, turn


@pytest.mark.parametrize("resolution", RESOLUTIONS)
def test_ruling_and_angle_of_every_lattice(resolution: tuple[int, int]) -> None:
    """By arithmetic, 15 to 85 lines an inch at every angle in steps of 2.5°: within 0.5 % and 0.2°."""
    for lpi in (15, 18, 22, 30, 37.5, 45, 55, 65, 75, 85):
        for angle in np.arange(0, 180, 2.5):
            lattice = lattice_of(lpi, float(angle), resolution=resolution)
            ruling, turn = misses(lattice, lpi, float(angle), resolution)
            assert ruling <= 0.005, (lpi, angle)
            assert turn <= 0.2, (lpi, angle)


@pytest.mark.parametrize(("resolution", "lpi", "angle"), [((720, 720), 45, 22.5), ((720, 1440), 30, 52.5), ((600, 600), 85, 0)])
@pytest.mark.parametrize("shifted", [False, True])
def test_cells_fill_the_tile(resolution: tuple[int, int], lpi: float, angle: float, *, shifted: bool) -> None:
    """As many cells as the determinant of their waves says, each as large as any other but for what whole dots cannot share."""
    lattice = lattice_of(lpi, angle, resolution=resolution)
    cells = cells_of(lattice, shifted=shifted)
    sizes = np.bincount(cells.of.ravel())
    assert len(sizes) == lattice.cells == len(np.unique(cells.middles))
    assert sizes.sum() == lattice.width * lattice.height
    assert np.abs(sizes - sizes.mean()).max() <= 2 * math.sqrt(sizes.mean()) + 1  # each side a dot longer or shorter
    assert np.array_equal(cells.of.ravel()[cells.middles], np.arange(lattice.cells))


def test_cells_take_their_turns() -> None:
    """The order of cells is a permutation, and the first tenth of them lie further apart than cells drawn at random do."""
    lattice = lattice_of(45, 22.5, resolution=(720, 720))
    cells, order = cells_of(lattice), cell_order(lattice, shifted=False)
    assert np.array_equal(np.sort(order), np.arange(lattice.cells))

    def nearest(chosen: np.ndarray) -> float:
        y, x = np.divmod(cells.middles[chosen], lattice.width)
        dy, dx = np.abs(y[:, None] - y), np.abs(x[:, None] - x)
        apart = np.hypot(np.minimum(dy, lattice.height - dy), np.minimum(dx, lattice.width - dx))
        return float(np.sort(apart, axis=1)[:, 1].min())

    tenth = lattice.cells // 10
    rng = np.random.default_rng(5)
    drawn = max(nearest(rng.choice(lattice.cells, tenth, replace=False)) for _ in range(20))
    assert nearest(np.flatnonzero(order < tenth)) > 1.4 * drawn


@pytest.mark.parametrize("shape", DotShape)
@pytest.mark.parametrize("resolution", RESOLUTIONS)
def test_flat_tones_are_exact(shape: DotShape, resolution: tuple[int, int]) -> None:
    """Every shape: 0 lays nothing, 255 everything, others are right to half a dot of the tile."""
    tile = thresholds(am_onsets(screen(shape=shape), resolution=resolution))
    means = np.append(0, np.cumsum(np.bincount(tile.ravel(), minlength=255))) / tile.size
    assert means[0] == 0
    assert means[255] == 1
    assert np.abs(means - np.arange(256) / 255).max() <= 0.5001 / tile.size


@pytest.mark.parametrize(("lpi", "angle"), [(45, 22.5), (85, 45), (85, 0), (60, 15)])
def test_cells_are_of_one_size(lpi: float, angle: float) -> None:
    """In light tones no cell has two dots more than another, in dark ones no cell two dots less."""
    lattice = lattice_of(lpi, angle, resolution=(720, 720))
    tile = thresholds(am_onsets(screen(lpi, angle), resolution=(720, 720)))
    for tone in (3, 13, 20):
        dots = np.bincount(cells_of(lattice).of[tone > tile], minlength=lattice.cells)
        holes = np.bincount(cells_of(lattice, shifted=True).of[255 - tone <= tile], minlength=lattice.cells)
        assert np.ptp(dots) <= 1 + (tone > 3)
        assert np.ptp(holes) <= 1 + (tone > 3)


@pytest.mark.parametrize("resolution", [(4800, 4800), (2400, 1200), (720, 4800), (100, 100)])
def test_tile_stays_small(resolution: tuple[int, int]) -> None:
    """The coarsest ruling at any resolution: no side longer than 2560 dots, the ruling still within 5 % and 3 degrees."""
    lattice = lattice_of(15, 17, resolution=resolution)
    assert max(lattice.height, lattice.width) <= 2560
    ruling, turn = misses(lattice, 15, 17, resolution)
    assert ruling <= 0.05
    assert turn <= 3


def test_shared_tile_is_read_only() -> None:
    """The tile is kept for the next who asks, so nobody can write into it."""
    onsets = am_onsets(screen(), resolution=(720, 720))
    with pytest.raises(ValueError, match="read-only"):
        onsets[0, 0] = 0
