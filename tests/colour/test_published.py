"""Published numbers of colour that no other test here names: values beside each check, with where they come from."""

import numpy as np
import pytest

from filmhand.colour.adaptation import bradford
from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import D50_WHITE, lab_from_xyz, xyz_from_lab
from filmhand.colour.neugebauer import demichel
from filmhand.colour.srgb import TO_XYZ, decode, xyz_from_srgb

D65 = np.array([0.95047, 1, 1.08883])
SRGB_WHITE = np.array([0.3127 / 0.3290, 1.0, (1 - 0.3127 - 0.3290) / 0.3290])
"""D65 by the chromaticity in IEC 61966-2-1: x 0.3127, y 0.3290."""


@pytest.mark.parametrize(
    ("first", "second", "expected"),
    [
        # Sharma, Wu and Dalal 2005, Table 1: the pairs that tell wrong readings of the formula apart.
        ((50, 0, 0), (50, -1, 2), 2.3669),  # 7: one colour without hue
        ((50, 2.49, -0.001), (50, -2.49, 0.0009), 7.1792),  # 9: mean hue, just on one side of half a turn
        ((50, 2.49, -0.001), (50, -2.49, 0.0011), 7.2195),  # 11: and just on the other
        ((50, -0.001, 2.49), (50, 0.0009, -2.49), 4.8045),  # 13
        ((50, -0.001, 2.49), (50, 0.0011, -2.49), 4.7461),  # 15
        ((50, 2.5, 0), (73, 25, -18), 27.1492),  # 17: far apart
        ((2.0776, 0.0795, -1.1350), (0.9033, -0.0636, -0.5514), 0.9082),  # 34: nearly black
    ],
)
def test_branches_of_ciede2000(first: tuple[float, ...], second: tuple[float, ...], expected: float) -> None:
    """Each branch of the mean hue by itself, to the table's four decimals, in both orders."""
    one, other = np.array(first, dtype=float), np.array(second, dtype=float)
    assert difference(one, other) == pytest.approx(expected, abs=1e-4)
    assert difference(other, one) == pytest.approx(expected, abs=1e-4)


def test_lightness_of_a_gray_card() -> None:
    """18 % of white has L* 49.496108 (colour-science 0.4.7)."""
    assert lab_from_xyz(0.18 * D50_WHITE) == pytest.approx([49.496108, 0, 0], abs=1e-6)
    assert xyz_from_lab(np.array([49.496108, 0, 0])) == pytest.approx(0.18 * D50_WHITE, abs=1e-8)


@pytest.mark.parametrize(
    ("value", "light"), [(50, 0.031896033), (118, 0.181164244), (127, 0.212230757), (128, 0.215860500), (200, 0.577580440)]
)
def test_linear_light_of_srgb(value: int, light: float) -> None:
    """IEC 61966-2-1's curve at further values (colour-science 0.4.7)."""
    assert decode(np.array(value / 255)) == pytest.approx(light, abs=1e-9)


def test_further_grays_of_srgb() -> None:
    """119 is the value nearest the middle of CIELAB: L* 50.0344 (LittleCMS 2.14)."""
    assert lab_from_xyz(xyz_from_srgb(np.array([119] * 3, np.uint8))) == pytest.approx([50.0344, 0, 0], abs=2e-4)


def test_bradford_from_srgbs_white() -> None:
    """From sRGB's white by its chromaticity to the connection space's (colour-science 0.4.7)."""
    expected = [
        [1.047886, 0.02291877, -0.0502161],
        [0.02958178, 0.99048352, -0.01707871],
        [-0.00925188, 0.01507261, 0.75167813],
    ]
    assert bradford(SRGB_WHITE, to=D50_WHITE) == pytest.approx(np.array(expected), abs=1e-7)


def test_colorants_of_srgb() -> None:
    """XYZ of red, green and blue over D50: what sRGB profiles carry as rXYZ, gXYZ and bXYZ (from memory), to their rounding."""
    expected = [[0.4361, 0.2225, 0.0139], [0.3851, 0.7169, 0.0971], [0.1431, 0.0606, 0.7141]]
    assert np.abs(TO_XYZ.T - np.array(expected)).max() < 3e-4


def test_bradford_there_and_back() -> None:
    """White goes to white, and the way back undoes it (both follow from the definition)."""
    there, back = bradford(D65, to=D50_WHITE), bradford(D50_WHITE, to=D65)
    assert there @ D65 == pytest.approx(D50_WHITE, abs=1e-12)
    assert back @ there == pytest.approx(np.eye(3), abs=1e-12)


def test_demichel_of_one_and_two_inks() -> None:
    """Shares by multiplication: (1-a), a; and for a half and a quarter 3/8, 3/8, 1/8, 1/8 (Demichel 1924)."""
    assert demichel(np.array([0.3])) == pytest.approx([0.7, 0.3])
    assert demichel(np.array([0.5, 0.25])).tolist() == [0.375, 0.375, 0.125, 0.125]
