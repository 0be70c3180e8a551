"""Laying out patches and blocks."""

from itertools import combinations

import numpy as np
import pytest

from filmhand.colour.chart.layout import Group, lay_out, letters
from filmhand.colour.chart.model import Box, Wanted
from filmhand.colour.chart.shelves import shelve
from filmhand.errors import SettingsError


def apart(one: Box, other: Box, by: float) -> bool:
    """Whether two boxes have a gap between them."""
    return (
        one.left + one.width + by <= other.left + 1e-9
        or other.left + other.width + by <= one.left + 1e-9
        or one.top + one.height + by <= other.top + 1e-9
        or other.top + other.height + by <= one.top + 1e-9
    )


def test_letters() -> None:
    """Rows are lettered as the columns of spreadsheets are."""
    assert [letters(number) for number in (0, 1, 25, 26, 27, 51, 52, 701, 702)] == [
        "A",
        "B",
        "Z",
        "AA",
        "AB",
        "AZ",
        "BA",
        "ZZ",
        "AAA",
    ]


def test_patches_are_named_in_reading_order() -> None:
    """Three blocks: names go on through all of them, rows from the top, each left to right, and every patch has its own place."""
    wanted = Wanted(patch_mm=8.0, block_mm=(120.0, 60.0))
    amounts = np.random.default_rng(1).random((100, 4))
    blocks, listed = lay_out([Group(amounts)], "CMYK", name="x", title="x", wanted=wanted)
    assert len(blocks) > 1
    assert np.abs(listed.amounts - amounts).max() <= 0.5 / 255
    found = []
    for block in blocks:
        assert block.size_mm[0] <= 120
        assert block.size_mm[1] <= 60
        in_order = sorted(block.patches.items(), key=lambda item: (item[1].top, item[1].left))
        found += [name for name, _ in in_order]
        for one, other in combinations(block.patches.values(), 2):
            assert apart(one, other, 1.0)
        for box in block.patches.values():
            assert box.width == box.height == 8.0
            assert 4 <= box.left <= block.size_mm[0] - 12
            assert 4 <= box.top <= block.size_mm[1] - 12
    assert tuple(found) == listed.names
    assert len(set(found)) == 100


@pytest.mark.parametrize(
    ("wanted", "message"), [(Wanted(patch_mm=6), "too small to measure"), (Wanted(block_mm=(30, 20)), "no room for a patch")]
)
def test_what_cannot_be_laid_out(wanted: Wanted, message: str) -> None:
    """Patches too small for an instrument, blocks too small for a patch."""
    with pytest.raises(SettingsError, match=message):
        lay_out([Group(np.zeros((1, 1)))], "K", name="x", title="x", wanted=wanted)


def test_blocks_lie_in_reading_order() -> None:
    """Left to right in rows, none over another or beyond the film; the length is that of the lowest."""
    sizes = [(float(width), float(height)) for width, height in np.random.default_rng(2).uniform(20, 150, (30, 2))]
    shelved = shelve(sizes, room_mm=300, gap_mm=6)
    boxes = [Box(*place, *size) for place, size in zip(shelved.places, sizes, strict=True)]
    assert all(apart(one, other, 6) for one, other in combinations(boxes, 2))
    assert all(box.left >= 0 and box.left + box.width <= 300 for box in boxes)
    assert list(shelved.places) == sorted(shelved.places, key=lambda place: (place[1], place[0]))
    assert shelved.length_mm == max(box.top + box.height for box in boxes)


def test_a_block_wider_than_the_film_is_refused() -> None:
    """With what to do about it."""
    with pytest.raises(SettingsError, match="wider film"):
        shelve([(310.0, 20.0)], room_mm=300, gap_mm=6)
