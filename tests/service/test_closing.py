"""When a sheet is closed: at times of day, by waiting, by length, for a due time or a rush; and when its tail is carried over."""

from datetime import UTC, datetime, timedelta, timezone
from typing import Any

import pytest

from filmhand.rules import CloseRules
from filmhand.service.closing import Waiting, reason_to_close
from some_records import a_sheet

NOW = datetime(2031, 5, 4, 22, 0, 30, tzinfo=UTC)
NIGHT = CloseRules(at=("22:00", "06:00"), carry="500 mm")


def _reason(rules: CloseRules, *, now: datetime = NOW, close_asked: bool = False, **waiting: Any) -> str | None:
    facts: dict[str, Any] = {"copies": (("j1", 1),), "oldest": NOW - timedelta(minutes=10), "length_mm": 100.0}
    sheet = a_sheet(at=NOW, close_asked=close_asked)
    return reason_to_close(sheet, rules, waiting=Waiting(**{**facts, **waiting}), now=now)


@pytest.mark.parametrize(
    ("rules", "oldest", "length_mm", "closes"),
    [
        (CloseRules(at=("22:00",)), NOW.replace(hour=21), 0, True),
        (CloseRules(at=("22:00",)), NOW, 0, False),
        (CloseRules(at=("23:00",)), NOW.replace(hour=21), 0, False),
        (CloseRules(at=("06:00",)), NOW - timedelta(days=1), 0, True),
        (CloseRules(length="3 m"), NOW, 3000, True),
        (CloseRules(length="3 m"), NOW, 2999, False),
        (CloseRules(), NOW - timedelta(days=9), 1e6, False),
        (CloseRules(after="45 min"), NOW - timedelta(minutes=45), 0, True),
        (CloseRules(after="45 min"), NOW - timedelta(minutes=44), 0, False),
    ],
)
def test_reasons_to_close(rules: CloseRules, oldest: datetime, length_mm: float, closes: bool) -> None:
    """By time of day once it has passed since the oldest copy came, by waiting, and by length."""
    assert bool(_reason(rules, oldest=oldest, length_mm=length_mm)) is closes


def test_a_rush_order_closes_its_sheet_whatever_the_rule_says() -> None:
    """As does a person who asks."""
    assert _reason(CloseRules()) is None
    assert _reason(CloseRules(), rush=True) == "a rush order is on it"
    assert _reason(CloseRules(), close_asked=True) == "asked"


@pytest.mark.parametrize("due", [datetime(2031, 5, 5, 0, 0), datetime(2031, 5, 5, 2, 0, tzinfo=timezone(timedelta(hours=2)))])  # noqa: DTZ001
def test_a_sheet_closes_in_time_for_what_is_due(due: datetime) -> None:
    """Two hours before midnight, said on the shop's clock or with a zone of its own."""
    rules = CloseRules(before_due="2 h")
    assert _reason(rules, now=NOW - timedelta(minutes=1), due=due) is None
    assert _reason(rules, due=due) == "a copy on it is due at 2031-05-05 00:00"


def test_a_short_tail_is_carried_to_the_next_time_and_no_further() -> None:
    """100 mm of film wait at ten, and are closed at six whatever they have become; what has grown to half a metre is closed."""
    six = datetime(2031, 5, 5, 6, 0, 1, tzinfo=UTC)
    assert _reason(NIGHT) is None
    assert _reason(NIGHT, now=six - timedelta(seconds=2)) is None
    assert _reason(NIGHT, now=six) == "it is past 06:00"
    assert _reason(NIGHT, length_mm=500.0) == "it is past 22:00"
    assert _reason(CloseRules(at=("22:00", "06:00"))) == "it is past 22:00"


def test_a_tail_is_not_carried_past_what_is_due() -> None:
    """Due at five, it cannot wait for six."""
    at_five = datetime(2031, 5, 5, 5, 0, tzinfo=UTC)
    assert _reason(NIGHT, due=at_five) == "it is past 22:00"
    assert _reason(NIGHT, due=at_five + timedelta(hours=2)) is None
