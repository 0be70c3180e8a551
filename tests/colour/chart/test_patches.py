"""Which patches a chart for an ink model has."""

from itertools import product
from pathlib import Path

import numpy as np
import pytest
from scipy import spatial

from filmhand.colour.chart.grid import FULL, patches
from filmhand.colour.measured.cgats import read_cgats
from filmhand.colour.sectors import sectors
from filmhand.errors import SettingsError

FOGRA39L = Path("/usr/share/color/icc/FOGRA39L.ti3")  # Debian icc-profiles-free, Zlib licence
INK_SETS = ("CMYK", "CMY", "KCMYRGBO", "CMYKO", "CMYKGB")


def percent(amounts: np.ndarray) -> set[tuple[int, ...]]:
    """Amounts as whole percent: eight bits keep those apart."""
    return {tuple(row) for row in np.rint(100 * amounts).astype(int).tolist()}


@pytest.mark.parametrize("total", [109, 160, 420, 800])
def test_small_charts_hold_a_whole_grid(total: int) -> None:
    """Every crossing of 0, 40 and 100 %: the cells with which models did best on published data of small charts."""
    found = patches("CMYK", total)
    assert found.shape == (total, 4)
    assert set(product((0, 40, 100), repeat=4)) <= percent(found)


@pytest.mark.parametrize("total", [420, 800])
def test_scattered_patches_fill_the_space_between(total: int) -> None:
    """Anywhere up to 300 % ink one of them is nearer, on average and at worst, than one of as many drawn at random (20 draws)."""
    found = patches("CMYK", total)
    is_grid = np.isin(np.rint(100 * found), (0, 40, 100)).all(axis=1)
    scattered = found[~is_grid & ((found > 0).sum(axis=1) > 1)]
    assert len(scattered) > total / 2
    rng = np.random.default_rng(4)

    def printable(count: int) -> np.ndarray:
        drawn = rng.random((2 * count, 4))
        return drawn[drawn.sum(axis=1) <= 3][:count]

    places = printable(3000)
    own = spatial.KDTree(scattered).query(places)[0]
    chance = np.array([spatial.KDTree(printable(len(scattered))).query(places)[0] for _ in range(20)])
    assert own.mean() < chance.mean(axis=1).min()
    assert own.max() < chance.max(axis=1).mean()


@pytest.mark.outside
@pytest.mark.skipif(not FOGRA39L.exists(), reason="needs FOGRA39L.ti3 (Debian icc-profiles-free)")
def test_the_full_chart_has_the_published_structure() -> None:
    """Every grid point of the 1617-patch chart is among those of a published ISO 12642-2 data set, which has as many rows."""
    (table,) = read_cgats(FOGRA39L.read_bytes())
    columns = [table.fields.index(f"CMYK_{ink}") for ink in "CMYK"]
    published = {tuple(round(float(row[column].replace(",", "."))) for column in columns) for row in table.rows}
    grid = {(*colours, black) for black, levels in FULL.items() for colours in product(levels, repeat=3)}
    assert len(table.rows) == 1617
    assert len(grid) == 729 + 216 + 125 + 125 + 64 + 27
    assert grid <= published
    assert grid <= percent(patches("CMYK", 1617))


@pytest.mark.parametrize("inks", INK_SETS)
@pytest.mark.parametrize("total", [150, 161, 240, 333, 480, 1000])
def test_exactly_as_many_as_asked_for(inks: str, total: int) -> None:
    """Whatever is asked for; no patch has inks that never meet; all full inks and every overprint of a sector are there."""
    found = patches(inks, total)
    assert found.shape == (total, len(inks))
    assert found.min() == 0
    assert found.max() == 1
    for row in found:
        used = {ink for ink, amount in zip(inks, row, strict=True) if amount > 0}
        assert any(used <= set(sector) for sector in sectors(inks))
    for sector in sectors(inks):
        columns = [inks.index(ink) for ink in sector]
        for corner in product((0, 100), repeat=len(sector)):
            wanted = np.zeros(len(inks), int)
            wanted[columns] = corner
            assert tuple(wanted) in percent(found)


@pytest.mark.parametrize("inks", INK_SETS)
@pytest.mark.parametrize("total", [200, 480])
def test_wedges_and_repeats(inks: str, total: int) -> None:
    """Each ink by itself leaves no step above 20 %, and some patches are repeated, bare white among them."""
    found = patches(inks, total)
    for column in range(len(inks)):
        alone = np.sort(found[found.sum(axis=1) == found[:, column], column])
        assert np.diff(alone).max() <= 0.205
    distinct, times = np.unique(found, axis=0, return_counts=True)
    assert total - len(distinct) >= min(round(0.02 * total), 8)
    assert times[(distinct == 0).all(axis=1)] >= 2


def test_the_planes_can_hold_every_amount() -> None:
    """Amounts are whole 255ths: what the list says is what is screened."""
    found = 255 * patches("CMYKRGBO", 700)
    assert np.abs(found - np.rint(found)).max() < 1e-9


def test_most_ink() -> None:
    """Patches past the limit are left out, and others take their place."""
    found = patches("CMYK", 420, most_ink=2.6)
    assert found.shape == (420, 4)
    assert found.sum(axis=1).max() <= 2.61


@pytest.mark.parametrize("inks", ["CMYK", "CMYKRGBO"])
def test_too_few_patches_are_refused(inks: str) -> None:
    """The refusal names the least number, and that one is granted."""
    with pytest.raises(SettingsError, match="too few") as refusal:
        patches(inks, 30)
    least = int(refusal.value.next_step.split()[-1])
    assert len(patches(inks, least)) == least
    with pytest.raises(SettingsError):
        patches(inks, least - 1)
