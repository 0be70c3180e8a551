"""The forward model against numbers worked out by hand and against its own invariants."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from filmhand.colour.cielab import lab_from_xyz
from filmhand.colour.neugebauer import between, demichel, mixed

# FOGRA39L (Debian icc-profiles-free), XYZ of paper, C, M, CM, Y, CY, MY, CMY.
FOGRA = np.array(
    [
        [84.48, 87.62, 74.57],
        [15.02, 22.93, 52.85],
        [33.03, 16.79, 15.01],
        [5.67, 4.10, 15.67],
        [69.17, 74.16, 7.04],
        [8.16, 18.42, 6.74],
        [30.20, 16.02, 2.30],
        [3.66, 3.80, 3.13],
    ]
)


def test_demichel() -> None:
    """C 50 %, M 40 %, Y 30 %: shares of paper, C, M, CM, Y, CY, MY, CMY by multiplication (Demichel 1924)."""
    assert demichel(np.array([0.5, 0.4, 0.3])) == pytest.approx([0.21, 0.21, 0.14, 0.14, 0.09, 0.09, 0.06, 0.06])


@pytest.mark.parametrize(
    ("n", "xyz", "lab"),
    [
        (1.0, (35.3043, 35.6615, 32.6194), (66.260, 3.133, -4.970)),
        (2.0, (28.4316, 28.5890, 26.0741), (60.417, 3.414, -4.485)),
    ],
)
def test_fogra_primaries(n: float, xyz: tuple[float, ...], lab: tuple[float, ...]) -> None:
    """The same mix over FOGRA39L's overprints; expected values reckoned apart from this code."""
    found = mixed(np.array([0.5, 0.4, 0.3]), primaries=FOGRA, n=n)
    assert found == pytest.approx(np.array(xyz), abs=1e-3)
    assert lab_from_xyz(found / 100) == pytest.approx(np.array(lab), abs=2e-3)


@pytest.mark.parametrize(("n", "reflectance"), [(1, 0.45), (1.7, 0.351082), (2, 0.328078), (1e6, 0.206155)])
def test_one_ink(n: float, reflectance: float) -> None:
    """Half a tint of a solid of 0.05 on paper of 0.85: Murray-Davies, Yule-Nielsen, and the limit √(0.85 · 0.05)."""
    primaries = np.array([[0.85] * 3, [0.05] * 3])
    assert mixed(np.array([0.5]), primaries=primaries, n=n)[0] == pytest.approx(reflectance, abs=1e-6)
    assert between(primaries[0], primaries[1], 0.5, n=n)[0] == pytest.approx(reflectance, abs=1e-6)


@given(arrays(np.float64, (5,), elements=st.floats(0, 1)))
def test_shares_add_up(areas: np.ndarray) -> None:
    """No share is negative, and all add up to 1."""
    shares = demichel(areas)
    assert shares.min() >= 0
    assert shares.sum() == pytest.approx(1)


def test_solids_are_the_primaries() -> None:
    """Inks at 0 or 1 give the overprint itself."""
    corners = np.array([[s >> i & 1 for i in range(3)] for s in range(8)], dtype=float)
    assert mixed(corners, primaries=FOGRA, n=1.7) == pytest.approx(FOGRA)
