"""The characterisation sets of Debian's icc-profiles-free, whole files."""

from dataclasses import replace

import numpy as np
import pytest

from colour.published_sets import FOLDER, SETS
from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import lab_from_xyz, xyz_from_lab
from filmhand.colour.measured.cgats import read_cgats
from filmhand.colour.measured.order import order_problem
from filmhand.colour.measured.read import read_chart
from filmhand.colour.measured.readings import Readings
from filmhand.colour.measured.refusals import refuse_unfit
from filmhand.colour.measured.repeats import averaged
from filmhand.colour.measured.unusable import UnusableChartError

pytestmark = [
    pytest.mark.outside,
    pytest.mark.skipif(not (FOLDER / "FOGRA39L.ti3").exists(), reason="needs Debian's icc-profiles-free"),
]


def raw(name: str) -> bytes:
    """A set's file."""
    return (FOLDER / f"{name}.ti3").read_bytes()


@pytest.mark.parametrize("name", SETS)
def test_whole_sets(name: str) -> None:
    """As many patches as the file says; its own Lab agrees with the XYZ read: mean ΔE00 0.03 at most, all within 0.5.

    XYZ in the files has two decimals, which in dark patches makes ΔE00 0.4.
    """
    found = read_chart(raw(name))
    table = read_cgats(raw(name))[0]
    assert len(found.names) == int(table.keywords["NUMBER_OF_SETS"])
    assert found.inks == ("C", "M", "Y", "K")
    lab = np.array([[float(word) for word in row[-3:]] for row in table.rows])
    off = difference(lab_from_xyz(found.xyz), lab)
    assert off.mean() <= 0.03
    assert off.max() <= (0.4 if name == "FOGRA39L" else 0.5)
    refuse_unfit(found)


def test_known_patches() -> None:
    """FOGRA39L's paper, full black and full cyan, as the Fogra states them in Lab, and the count of distinct patches.

    The file's two decimals of XYZ alone put black ΔE00 0.17 off.
    """
    found = averaged(read_chart(raw("FOGRA39L")))
    assert len(found.counts) == 1588
    for amounts, lab in (((0, 0, 0, 0), (95, 0, -2)), ((0, 0, 0, 1), (16, 0, 0)), ((1, 0, 0, 0), (55, -37, -50))):
        row = np.flatnonzero((found.readings.amounts == amounts).all(axis=1))[0]
        assert difference(lab_from_xyz(found.readings.xyz[row]), np.array(lab, dtype=np.float64)) < 0.2


def test_copied_repeats_tell_no_noise() -> None:
    """In FOGRA39L the 29 repeats are alike to the last digit: the noise is unknown, not nil. TR002's are not."""
    assert averaged(read_chart(raw("FOGRA39L"))).noise_lab is None
    assert (averaged(read_chart(raw("TR002"))).noise_lab or 0) > 0.1


@pytest.mark.parametrize("name", SETS)
def test_sheets_measured_wrong(name: str) -> None:
    """Upside down, or begun some patches late: refused, and said so."""
    right = read_chart(raw(name))
    backwards = replace(right, xyz=right.xyz[::-1])
    assert "upside down" in (order_problem(backwards) or "")
    for places in (1, 40, 700):
        late = replace(right, xyz=np.roll(right.xyz, -places, axis=0))  # the first colour is that of a later patch
        assert (order_problem(late) or "").endswith(f"began at patch {right.names[places]}")
    for wrong in (backwards, late):
        with pytest.raises(UnusableChartError, match=r"upside down|began at"):
            refuse_unfit(wrong)
    shuffled = Readings(right.inks, right.names, right.amounts, np.random.default_rng(5).permutation(right.xyz))
    with pytest.raises(UnusableChartError, match=r"do not go with|no darker"):
        refuse_unfit(shuffled)


@pytest.mark.parametrize("name", SETS)
@pytest.mark.parametrize("count", [25, 40, 160])
def test_small_charts_in_any_order(name: str, count: int) -> None:
    """Patches drawn by lot, by number or shuffled, with 3 % of noise: the order given is believed, one off by a patch is not."""
    whole = read_chart(raw(name))
    rng = np.random.default_rng(count)
    for _ in range(10):
        rows = rng.choice(len(whole.names), count, replace=False)
        for some in (rows, np.sort(rows)):
            xyz = whole.xyz[some] * np.exp(rng.normal(0, 0.03, (count, 1)))
            chart = Readings(whole.inks, tuple(whole.names[i] for i in some), whole.amounts[some], xyz)
            assert order_problem(chart) is None
            assert order_problem(replace(chart, xyz=np.roll(xyz, -1, axis=0))) is not None


@pytest.mark.parametrize("sd", [0.2, 0.4, 0.7])
@pytest.mark.parametrize("repeats", [2, 3, 5])
def test_noise_is_found(sd: float, repeats: int) -> None:
    """Normal noise put on each Lab coordinate of repeated FOGRA39L comes back: the standard deviation within 5 %, and the mean
    ΔE00 of a reading from the true colour within 5 % of what it is."""
    once = averaged(read_chart(raw("FOGRA39L"))).readings
    truth = np.repeat(lab_from_xyz(once.xyz), repeats, axis=0)
    noisy = truth + np.random.default_rng(repeats).normal(0, sd, truth.shape)
    names = tuple(f"{name}/{i}" for name in once.names for i in range(repeats))
    found = averaged(Readings(once.inks, names, np.repeat(once.amounts, repeats, axis=0), xyz_from_lab(noisy)))
    assert found.noise_lab == pytest.approx(sd, rel=0.05)
    assert found.noise_de00 == pytest.approx(difference(noisy, truth).mean(), rel=0.05)
    wrongly = sum(outlier.is_left_out for outlier in found.outliers) / len(names)
    assert wrongly < 2e-3
    averages = difference(lab_from_xyz(found.readings.xyz), lab_from_xyz(once.xyz)).mean()
    assert averages < 1.1 * difference(noisy, truth).mean() / np.sqrt(repeats)


def test_outliers_are_named() -> None:
    """Of 60 readings in 4764 put off by ΔE00 4 or more each is named and left out, whatever the noise (0.4)."""
    once = averaged(read_chart(raw("FOGRA39L"))).readings
    rng = np.random.default_rng(11)
    lab = np.repeat(lab_from_xyz(once.xyz), 3, axis=0)
    lab = lab + rng.normal(0, 0.4, lab.shape)
    wrong = rng.choice(len(once.names), 60, replace=False) * 3 + rng.integers(0, 3, 60)
    bad = lab.copy()
    bad[wrong, 0] += np.where(lab[wrong, 0] > 50, -8, 8)
    planted = {f"{once.names[i // 3]}/{i % 3}" for i in wrong if difference(bad[i], lab[i]) >= 4}
    names = tuple(f"{name}/{i}" for name in once.names for i in range(3))
    found = averaged(Readings(once.inks, names, np.repeat(once.amounts, 3, axis=0), xyz_from_lab(bad)))
    left_out = {outlier.name for outlier in found.outliers if outlier.is_left_out}
    assert len(planted) > 50
    assert planted <= left_out
    assert len(left_out - {names[i] for i in wrong}) <= 8
