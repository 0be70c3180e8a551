"""Measurements beside their patch list."""

import numpy as np
import pytest

from filmhand.colour.measured.cgats import patch_list
from filmhand.colour.measured.joined import joined
from filmhand.colour.measured.read import read_chart
from filmhand.colour.measured.sheet import Printed, Seen
from filmhand.colour.measured.unusable import UnusableChartError

NAMES = ("A01", "A02", "A03", "B01")
AMOUNTS = np.array([[0.0, 0.0], [1.0, 0.0], [0.0, 1.0], [0.5, 0.25]])
LISTED = Printed((NAMES, ("1", "2", "3", "4")), ("C", "O"), AMOUNTS)


def seen(*labels: tuple[str, ...], count: int = 4) -> Seen:
    """Grays that tell their row by their lightness."""
    return Seen(labels, np.linspace(0.1, 0.8, count)[:, None] * np.ones(3))


@pytest.mark.parametrize(
    ("labels", "rows"),
    [
        ([("B01", "A03", "A01", "A02")], [3, 2, 0, 1]),
        ([("b1", "a3", "a1", "a2")], [3, 2, 0, 1]),
        ([("4", "3", "2", "1")], [3, 2, 1, 0]),
        ([("x", "x", "y", "z"), ("A03", "A02", "A01", "B01")], [2, 1, 0, 3]),
        ([], [0, 1, 2, 3]),
        ([("A01", "A02", "A03", "B01", "A02", "a1")], [0, 1, 2, 3, 1, 0]),
    ],
)
def test_by_name(labels: list[tuple[str, ...]], rows: list[int]) -> None:
    """By name or number, whichever column fits, repeats too; by order where the measurements have no names."""
    found = joined(seen(*labels, count=len(rows)), LISTED)
    assert np.array_equal(found.amounts, AMOUNTS[rows])
    assert np.array_equal(found.xyz, seen(count=len(rows)).xyz)


@pytest.mark.parametrize(
    ("labels", "count", "words"),
    [
        ([("A01", "A02", "A03", "C07")], 4, "Patch 'c7' was measured, but is not in the patch list"),
        ([("A01", "A03", "B01")], 3, "Patch 'A02' of the patch list was not measured"),
        ([], 3, "3 patches were measured, but 4 were printed"),
    ],
)
def test_patches_without_a_partner(labels: list[tuple[str, ...]], count: int, words: str) -> None:
    """The first of them is named."""
    with pytest.raises(UnusableChartError, match=words):
        joined(seen(*labels, count=count), LISTED)


def test_a_list_with_a_name_twice() -> None:
    """Nobody knows which of the two was measured."""
    twice = Printed((("A1", "A2", "a01", "A4"),), ("C", "O"), AMOUNTS)
    with pytest.raises(UnusableChartError, match="'A1' more than once"):
        joined(seen(("A1", "A2", "A1", "A4")), twice)


def measurements(fields: str, rows: str) -> bytes:
    """A file of measurements."""
    return f"BEGIN_DATA_FORMAT\nSAMPLE_NAME {fields} LAB_L LAB_A LAB_B\nEND_DATA_FORMAT\nBEGIN_DATA\n{rows}END_DATA\n".encode()


LIST = patch_list(("C", "O"), NAMES, AMOUNTS, title="a list").encode()


def test_amounts_that_the_instrument_rounded() -> None:
    """Both say the inks: they must agree within rounding, and the list's count."""
    rows = "B01 50.2 24.9 50 0 0\nA01 0 0 90 0 0\nA02 100 0 50 0 0\nA03 0 100 60 0 0\n"
    for fields in ("CMYK_C INK_O", "2CLR_1 2CLR_2"):
        found = read_chart(measurements(fields, rows), patch_list=LIST)
        assert np.array_equal(found.amounts, AMOUNTS[[3, 0, 1, 2]])
        assert found.inks == ("C", "O")


@pytest.mark.parametrize(
    ("fields", "words"),
    [("INK_O CMYK_C", "Patch B01 has other inks"), ("CMYK_C CMYK_M", r"2 inks \(C M\), the patch list is of C O")],
)
def test_another_chart(fields: str, words: str) -> None:
    """A list that belongs to another chart is told."""
    rows = "B01 50.2 24.9 50 0 0\nA01 0 0 90 0 0\nA02 100 0 50 0 0\nA03 0 100 60 0 0\n"
    with pytest.raises(UnusableChartError, match=words):
        read_chart(measurements(fields, rows), patch_list=LIST)
