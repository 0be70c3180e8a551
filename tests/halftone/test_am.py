"""AM screens against the arithmetic of rational screens, and against their spectra."""

import math

import numpy as np
import pytest

from filmhand.halftone.am import am_tile, cell_of, tile_size
from filmhand.rules import DotShape, ScreenKind, ScreenRules


def screen(lpi: float = 45, angle: float = 22.5, shape: DotShape = DotShape.ROUND) -> ScreenRules:
    """An AM screen."""
    return ScreenRules(screen=ScreenKind.AM, lpi=lpi, angle=angle, shape=shape)


@pytest.mark.parametrize(
    ("dpi", "lpi", "angle", "cell"),
    [
        (600, 45, 15, (13, 3)),
        (600, 45, 22.5, (12, 5)),
        (720, 45, 0, (16, 0)),
        (720, 45, 22.5, (15, 6)),
        (720, 45, 45, (11, 11)),
        (720, 55, 75, (3, 13)),
        (1200, 55, 22.5, (20, 8)),
        (1440, 55, 45, (19, 19)),
    ],
)
def test_nearest_cell(dpi: int, lpi: float, angle: float, cell: tuple[int, int]) -> None:
    """The nearest whole-pixel cell: a table reckoned by hand from lpi = dpi / √(a² + b²) and angle = atan2(b, a)."""
    row, column = cell_of(screen(lpi, angle), resolution=(dpi, dpi))
    assert row == cell
    assert column == (-cell[1], cell[0])


@pytest.mark.parametrize("shape", DotShape)
def test_flat_tones_are_exact(shape: DotShape) -> None:
    """Every shape: 0 lays nothing, 255 everything, others are right to half a dot of a tile of at least 96²."""
    tile = am_tile(screen(shape=shape), resolution=(720, 720))
    means = np.array([(tone > tile).mean() for tone in range(256)])
    assert means[0] == 0
    assert means[255] == 1
    assert np.abs(means - np.arange(256) / 255).max() <= 0.5 / tile.size
    assert min(tile.shape) >= 96


@pytest.mark.parametrize(
    ("resolution", "lpi", "angle"),
    [((720, 720), 45, 22.5), ((600, 600), 45, 15), ((1440, 1440), 55, 75), ((720, 1440), 45, 22.5), ((600, 1200), 35, 52.5)],
)
def test_frequency_and_angle(resolution: tuple[int, int], lpi: float, angle: float) -> None:
    """The strongest frequency, in lines an inch and degrees on the film, is the cell's exactly, and near what was asked.

    Resolutions that differ across and down included.
    """
    asked = screen(lpi, angle)
    tile = am_tile(asked, resolution=resolution)
    height, width = tile.shape
    power = np.abs(np.fft.fft2((tile < 100).astype(float)))
    power[0, 0] = 0
    y, x = np.unravel_index(np.argmax(power), power.shape)
    across, down = np.fft.fftfreq(width)[x] * resolution[0], np.fft.fftfreq(height)[y] * resolution[1]
    row, column = cell_of(asked, resolution=resolution)
    inches = np.array([row, column]) / resolution
    # Frequencies of a lattice are the rows of its matrix' inverse, transposed (any text on crystallography).
    own = np.linalg.inv(inches).T
    assert min(np.abs(sign * np.array([across, down]) - one).max() for one in own for sign in (1, -1)) < 1e-6
    assert math.hypot(across, down) == pytest.approx(lpi, rel=0.04)
    off = (math.degrees(math.atan2(down, across)) - angle + 45) % 90 - 45
    assert abs(off) < 2.5


def test_many_cells_take_turns() -> None:
    """At 45° a cell of 11·√2 pixels has 242 dots, too few for 256 tones; over the tile each tone adds dots."""
    tile = am_tile(screen(angle=45), resolution=(720, 720))
    assert len(np.unique(tile)) == 255


@pytest.mark.parametrize("resolution", [(4800, 4800), (2400, 1200), (720, 4800), (100, 100)])
def test_tile_stays_small(resolution: tuple[int, int]) -> None:
    """The coarsest ruling at any resolution: a tile of at most a megabyte, the cell still within 7 % and 3 degrees."""
    row, column = cell_of(screen(15, 17), resolution=resolution)
    assert math.prod(tile_size(row, column)) <= 1 << 20
    across, down = row[0] / resolution[0], row[1] / resolution[1]
    assert 1 / math.hypot(across, down) == pytest.approx(15, rel=0.07)
    assert math.degrees(math.atan2(down, across)) == pytest.approx(17, abs=3)
