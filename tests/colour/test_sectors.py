"""Hue sectors of the inks a printer may have."""

from itertools import chain, combinations, pairwise

import pytest

from filmhand.colour.sectors import CIRCLE, sectors

ALL = "CMYKRGBO"
SUBSETS = [tuple(one) for one in chain.from_iterable(combinations(ALL, size) for size in range(1, len(ALL) + 1))]


def test_nine_inks() -> None:
    """The sectors of the full set, written out by hand: opposite hues are never laid on one another."""
    wanted = ("CMYK", "YORK", "MYRK", "CMBK", "CYGK")
    found = {"".join(sorted(sector)) for sector in sectors("CMYKRGBOW")}
    assert found == {"".join(sorted(sector)) for sector in wanted}
    assert sectors("CMYKRGBOW")[0] == ("C", "M", "Y", "K")


@pytest.mark.parametrize("inks", ["CMYKW", "CMYW", "KW", "KCMYW"])
def test_ordinary_sets_are_one_sector(inks: str) -> None:
    """Up to four inks need no division; black comes last whatever the print order."""
    (sector,) = sectors(inks)
    assert set(sector) == set(inks) - {"W"}
    assert "K" not in sector[:-1]


def test_white_alone_has_none() -> None:
    """White is no colour."""
    assert sectors("W") == ()


@pytest.mark.parametrize("inks", SUBSETS, ids="".join)
def test_any_set_is_covered(inks: tuple[str, ...]) -> None:
    """Whatever inks there are: at most four each, black last in all, every pair of hue neighbours in one, none in another."""
    found = sectors(inks)
    colours = [ink for ink in CIRCLE if ink in inks]
    assert set(chain.from_iterable(found)) == set(inks)
    for sector in found:
        assert len(sector) == len(set(sector)) <= 4
        assert ("K" in inks) == (sector[-1] == "K")
        assert not any(set(sector) < set(other) for other in found)
    for pair in pairwise([*colours, *colours[:1]]):
        assert any(set(pair) <= set(sector) for sector in found)
