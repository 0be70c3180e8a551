"""CIELAB against values worked out by other programs, and against a published characterisation."""

from pathlib import Path

import numpy as np
import pytest

from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import D50_WHITE, lab_from_xyz, xyz_from_lab

FOGRA39L = Path("/usr/share/color/icc/FOGRA39L.ti3")  # Debian icc-profiles-free, Zlib licence


@pytest.mark.parametrize(
    ("xyz", "lab"),
    [
        # Worked out with colour-science 0.4.7 over the ICC white.
        ((0.9642, 1.0, 0.8249), (100, 0, 0)),
        ((0.2, 0.18, 0.1), (49.496108, 13.665962, 13.940803)),
        ((0.5, 0.5, 0.5), (76.069261, 4.852017, -10.519333)),
        ((0.001, 0.0008, 0.0012), (0.722637, 0.923267, -1.019669)),
        ((0, 0, 0), (0, 0, 0)),
    ],
)
def test_known_colours(xyz: tuple[float, ...], lab: tuple[float, ...]) -> None:
    """XYZ to CIELAB, on the cube root and on the straight leg near black."""
    assert lab_from_xyz(np.array(xyz, dtype=float)) == pytest.approx(np.array(lab, dtype=float), abs=2e-6)


def test_the_white_is_the_profile_connection_spaces() -> None:
    """ICC.1:2010 stores its white as s15Fixed16 F6D6, 10000, D32D; CIE D50 itself has X 0.9643."""
    assert np.rint(D50_WHITE * 65536).astype(int).tolist() == [0xF6D6, 0x10000, 0xD32D]


def test_the_knee() -> None:
    """At 216/24389 of white L* is 8 on both legs (CIE 15)."""
    assert lab_from_xyz(D50_WHITE * 216 / 24389) == pytest.approx([8, 0, 0], abs=1e-12)


def test_there_and_back() -> None:
    """Nothing is lost on the way to CIELAB and back."""
    xyz = np.random.default_rng(1).random((2000, 3)) ** 3
    assert np.abs(xyz_from_lab(lab_from_xyz(xyz)) - xyz).max() < 1e-9


@pytest.mark.skipif(not FOGRA39L.exists(), reason="needs FOGRA39L.ti3 (Debian icc-profiles-free)")
def test_a_whole_characterisation() -> None:
    """FOGRA39L gives XYZ and CIELAB of 1617 patches; its XYZ has two decimals, hence the bar of 0.4."""
    text = FOGRA39L.read_text("latin-1")
    fields = text.split("BEGIN_DATA_FORMAT")[1].split("END_DATA_FORMAT")[0].split()
    rows = [line.split() for line in text.split("BEGIN_DATA\n")[1].split("END_DATA")[0].splitlines() if line.strip()]
    columns = {name: np.array([float(row[i]) for row in rows]) for i, name in enumerate(fields) if name != "SAMPLE_ID"}
    xyz = np.stack([columns[f"XYZ_{axis}"] for axis in "XYZ"], axis=-1) / 100
    lab = np.stack([columns[f"LAB_{axis}"] for axis in "LAB"], axis=-1)
    miss = difference(lab_from_xyz(xyz), lab)
    assert len(miss) == 1617
    assert miss.mean() <= 0.03
    assert miss.max() <= 0.4
