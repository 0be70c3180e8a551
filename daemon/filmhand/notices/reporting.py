"""When the night's report is written: pure."""

from collections.abc import Iterable
from datetime import datetime, time

from filmhand.times import DAY, next_time


def report_due(clocks: Iterable[time], *, last: datetime | None, now: datetime) -> datetime | None:
    """The time of day for which a report is to be written now; None: there is none.

    `last`: that of the last report; None: none was ever written, so that they begin with the next time of day. What was missed
    while the machine was off is one report, for the latest of the times. Both are read off the wall clock without their zones:
    the hour at which summer time begins or ends makes no second report, and leaves none out.
    """
    wall = now.replace(tzinfo=None)
    passed = [next_time(clock, wall) - DAY for clock in clocks]
    if not passed or last is None:
        return None
    due, reported = max(passed), last.replace(tzinfo=None)
    was_ahead = reported > wall + DAY  # the clock was wrong then, or is now: one report sets it right
    return due.replace(tzinfo=now.tzinfo) if due > reported or was_ahead else None
