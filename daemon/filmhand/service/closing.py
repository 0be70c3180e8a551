"""When an open sheet is closed: pure."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime, time, timedelta

from filmhand.journal.records import SheetRecord
from filmhand.rules import CloseRules
from filmhand.times import DAY, next_time


@dataclass(frozen=True)
class Waiting:
    """The copies that wait for one open sheet."""

    copies: tuple[tuple[str, int], ...]
    """Each as job and number."""
    oldest: datetime
    """When the one that waits longest was ready."""
    length_mm: float
    """Estimate of the film that they need; 0 where the rule asks for no length."""
    due: datetime | None = None
    """When the first of them is due."""
    rush: bool = False
    """One of them is in a rush."""


def reason_to_close(sheet: SheetRecord, rules: CloseRules, *, waiting: Waiting, now: datetime) -> str | None:
    """Why an open sheet is closed now, in words for the log; None to leave it open."""
    return next(_reasons(sheet, rules, waiting, now), None)


def _reasons(sheet: SheetRecord, rules: CloseRules, waiting: Waiting, now: datetime) -> Iterator[str]:
    if sheet.close_asked:
        yield "asked"
    if waiting.rush:
        yield "a rush order is on it"
    if rules.length is not None and waiting.length_mm >= rules.length:
        yield f"long enough ({waiting.length_mm:.0f} mm)"
    if rules.after is not None and (now - waiting.oldest).total_seconds() >= rules.after:
        yield "its oldest copy has waited long enough"
    due = _in_zone_of(now, waiting.due)
    if rules.before_due is not None and due is not None and now >= due - timedelta(seconds=rules.before_due):
        yield f"a copy on it is due at {due:%Y-%m-%d %H:%M}"
    passed = _passed(rules.at, since=waiting.oldest, now=now)
    if len(passed) > 1 or (passed and not _is_carried(waiting, rules, due=due, now=now)):
        yield f"it is past {passed[0]:%H:%M}"


def _is_carried(waiting: Waiting, rules: CloseRules, *, due: datetime | None, now: datetime) -> bool:
    """Whether so little film waits for the next time of day, at which it is closed whatever it has become."""
    if rules.carry is None or waiting.length_mm >= rules.carry:
        return False
    return due is None or due > min(next_time(clock, now) for clock in rules.at)


def _passed(clocks: Iterable[time], *, since: datetime, now: datetime) -> list[datetime]:
    """The last two times at most that the clock showed one of these times of day after an instant, the latest first."""
    shown = (next_time(clock, now) - days * DAY for clock in clocks for days in (1, 2))
    return sorted((one for one in shown if since < one <= now), reverse=True)[:2]


def _in_zone_of(now: datetime, when: datetime | None) -> datetime | None:
    """A due time on the shop's clock: without a zone it is meant so."""
    if when is None:
        return None
    return when.replace(tzinfo=now.tzinfo) if when.tzinfo is None else when.astimezone(now.tzinfo)
