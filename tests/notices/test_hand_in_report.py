"""The hand in the report of a night: per sheet, in all, and in a line for a terminal."""

import re
from datetime import UTC, datetime
from html.parser import HTMLParser
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pytest

from filmhand.estimate.hand import Hand
from filmhand.journal.sheets import Balance
from filmhand.notices.report import Night, SheetLine, as_text, millilitres, saving, write
from filmhand.shop import House, Shop

AT = datetime(2026, 5, 4, 6, 0, tzinfo=UTC)
SOFT = Hand(0.02, 0.5, 26.0, 51.0, {"C": 1.0, "W": 4.0}, {"C": 3.0, "W": 7.0})
FULL = Hand(0.02, 1.0, 50.0, 50.0, {"W": 12.0}, {"W": 12.0})
ESTIMATE = {"ink_ml": {"C": 1.0, "W": 3.0, "W2": 1.0}, "powder_g": 2.0, "minutes": None, "cost": {"total": 1.0}}


def night(*hands: Hand | None) -> Night:
    """A night with a sheet a hand."""
    sheets = tuple(SheetLine(f"s{place}", "out/x", 2, 300.0, ESTIMATE, hand) for place, hand in enumerate(hands))
    return Night(AT, (), sheets, Balance(4, 4, 0, 0, 0, 0))


class _Words(HTMLParser):
    """All that a reader sees."""

    def __init__(self) -> None:
        super().__init__()
        self.seen: list[str] = []

    def handle_data(self, data: str) -> None:
        """Text between tags."""
        self.seen.append(data)


def page(tmp_path: Path, of: Night) -> str:
    """The report's words, each run of blanks as one."""
    shop, house = SimpleNamespace(done=tmp_path), SimpleNamespace(settings=SimpleNamespace(name="a shop"))
    words = _Words()
    words.feed(write(cast(Shop, shop), cast(House, house), of, at=AT).read_text("utf-8").split("</style>")[1])
    return re.sub(r"\s+", " ", " ".join(words.seen))


def test_each_sheet_and_all_together(tmp_path: Path) -> None:
    """Two sheets of equal area: weights 26 and 50 come to 38 g/m², coverage to 75 %, 17 of 22 ml are laid; W2 is white too."""
    said = page(tmp_path, night(SOFT, FULL))
    assert "26 g/m² , full film 51 g/m² 50 % covered 5.00 ml of ink saved (50 %)" in said
    assert "50 g/m² , full film 50 g/m² 100 % covered as much ink as full film" in said
    assert "film weight 38 g/m² full film 50 g/m²" in said  # 50.5, to the even gram
    assert "film coverage 75 % of the prints' area" in said
    assert "ink laid 17.0 ml full film 22.0 ml" in said
    assert "ink saved 23 % 5.00 ml" in said
    assert "5.0 ml ink, of it 4.0 ml white" in said


def test_sheets_from_before_are_left_out(tmp_path: Path) -> None:
    """A sheet whose hand is unknown says nothing of it; the total is that of the others, or is not there."""
    assert "film weight 26 g/m²" in page(tmp_path, night(SOFT, None))
    assert "film weight" not in page(tmp_path, night(None))
    assert "Hand:" not in as_text(night(None), tmp_path)


def test_a_line_for_the_terminal(tmp_path: Path) -> None:
    """Weight beside full film's, coverage, saving."""
    line = "Hand: 26 g/m² of print (full film: 51 g/m²), 50 % covered, 5.00 ml of ink saved (50 %)"
    assert line in as_text(night(SOFT), tmp_path).splitlines()


@pytest.mark.parametrize(
    ("ml", "full", "words"),
    [
        (1.0, 4.0, "3.00 ml of ink saved (75 %)"),
        (30.0, 60.0, "30.0 ml of ink saved (50 %)"),
        (2.0, 2.001, "as much ink as full film"),
        (3.0, 2.0, "1.00 ml more ink than full film"),
        (1.0, 0.0, "as much ink as full film"),
    ],
)
def test_saving_in_words(ml: float, full: float, words: str) -> None:
    """Less, the same, more."""
    assert saving(Hand(0.01, 1, 1, 1, {"W": ml}, {"W": full})) == words


def test_millilitres_have_places_as_they_are_large() -> None:
    """Two below ten, one above."""
    values: list[Any] = [millilitres(0.0), millilitres(9.994), millilitres(123.45)]
    assert values == ["0.00 ml", "9.99 ml", "123.5 ml"]
