"""When the night's report is due: once a time of day, made up once after a pause, by the wall clock when summer time ends too."""

from collections.abc import Iterable
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from filmhand.notices.reporting import report_due

HALF_PAST_SIX = (time(6, 30),)


def _at(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def _written(clocks: Iterable[time], *, begins: datetime, steps: Iterable[datetime]) -> list[datetime]:
    """The times for which a daemon that looks at these instants writes its reports."""
    last, written = begins, []
    for now in steps:
        due = report_due(clocks, last=last, now=now)
        if due is not None:
            last = due
            written.append(due)
    return written


@pytest.mark.parametrize(
    ("last", "now", "due"),
    [
        ("2031-05-04 06:30", "2031-05-05 06:29:59", None),
        ("2031-05-04 06:30", "2031-05-05 06:30", "2031-05-05 06:30"),
        ("2031-05-05 06:30", "2031-05-05 06:30:01", None),
        ("2031-05-04 06:30", "2031-05-05 23:59", "2031-05-05 06:30"),
        ("2031-05-01 06:30", "2031-05-05 05:00", "2031-05-04 06:30"),
        ("2031-05-04 22:10", "2031-05-05 03:00", None),
        (None, "2031-05-05 07:00", None),
    ],
)
def test_one_time_of_day(last: str | None, now: str, due: str | None) -> None:
    """Not before it, at it, not again after it; late if the machine was off; the newest of several days that were missed."""
    found = report_due(HALF_PAST_SIX, last=None if last is None else _at(last), now=_at(now))
    assert found == (None if due is None else _at(due))


def test_several_times_and_none() -> None:
    """Each of two is written; of two that were missed only the later; without times there is never a report."""
    clocks = (time(22), time(6, 30))
    hours = [_at("2031-05-04 12:00") + timedelta(minutes=10 * step) for step in range(6 * 48)]
    assert [f"{due:%d %H:%M}" for due in _written(clocks, begins=hours[0], steps=hours)] == [
        *("04 22:00", "05 06:30", "05 22:00", "06 06:30"),
    ]
    assert report_due(clocks, last=_at("2031-05-04 12:00"), now=_at("2031-05-05 07:00")) == _at("2031-05-05 06:30")
    assert report_due((), last=_at("2031-05-04 12:00"), now=_at("2031-05-06 07:00")) is None


@pytest.mark.parametrize("clock", [time(1, 30), time(2, 30), time(3, 30), time(6, 30)])
@pytest.mark.parametrize("ends", ["2026-03-29", "2026-10-25"])
def test_summer_time_begins_and_ends(clock: time, ends: str) -> None:
    """In Berlin (IANA's tz data) both nights have one report a day, though one hour of them does not exist, or exists twice."""
    berlin = ZoneInfo("Europe/Berlin")
    start = (datetime.fromisoformat(ends) - timedelta(days=2)).replace(tzinfo=berlin).astimezone(UTC)
    # The machine's clock gives a fixed offset, as datetime.astimezone() does.
    steps = [(start + timedelta(minutes=5 * step)).astimezone(berlin) for step in range(12 * 24 * 4)]
    fixed = [now.astimezone(datetime.fromisoformat(now.isoformat()).tzinfo) for now in steps]
    written = _written((clock,), begins=fixed[0], steps=fixed)
    assert len({due.date() for due in written}) == len(written) == 4


def test_a_clock_that_was_far_ahead() -> None:
    """A report of ten years hence does not silence the next ten years: one is written, and then they go on."""
    now = _at("2031-05-05 12:00")
    assert report_due(HALF_PAST_SIX, last=_at("2041-05-05 06:30"), now=now) == _at("2031-05-05 06:30")
    assert report_due(HALF_PAST_SIX, last=_at("2031-05-05 06:30"), now=now) is None
