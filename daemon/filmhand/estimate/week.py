"""The coming week by the journal's own history: film that orders will need day by day, and how many print heads print it in time.

What comes on a day is printed that day; what waits already, by the day that it is due, or within the week where no due time is
known. Of the least speed that does both, every stretch of days that begins tomorrow is looked at (the demand of each against its
printing hours: the usual test of earliest due first, from memory), and every day alone.
"""

import statistics
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final

from filmhand.estimate.film_need import Load, Usage, film_of
from filmhand.journal.history import Came
from filmhand.journal.states import JobStage

WEEKS: Final = 8
"""How far back history is looked at."""
DAYS: Final = 7
_NOT_PRINTED: Final = (JobStage.HOLDING, JobStage.HELD, JobStage.REJECTING, JobStage.REJECTED)


@dataclass(frozen=True)
class Day:
    """A day to come: film of the orders that it will bring, and of those that wait now and are due on it.

    `usual_m2`: the mean of that day of the week; `busy_m2`: what four of five such days do not exceed (80th percentile, linear
    between ranks). `seen`: how many such days the history has; 0: the figures are those of all its days.
    """

    date: date
    usual_m2: float
    busy_m2: float
    due_m2: float
    seen: int


@dataclass(frozen=True)
class Heads:
    """Print heads that the week needs at one number of passes, of the speed that one of the printer's heads has."""

    passes: int
    m2_per_hour_a_head: float
    usual: float
    busy: float


@dataclass(frozen=True)
class Week:
    """The coming seven days, from tomorrow on.

    `history_days`: whole days that the figures rest on; 0: today alone, as far as it has come. `undated_m2`: what waits without a
    due time. `usual_m2_h`, `busy_m2_h`: the speed that such a week needs.
    """

    days: tuple[Day, ...]
    history_days: int
    undated_m2: float
    hours_a_day: float
    usual_m2_h: float
    busy_m2_h: float


def coming_week(
    came: Iterable[Came],
    loads: Iterable[Load],
    *,
    usages: Mapping[str, Usage],
    now: datetime,
    begun: date | None,
    hours_a_day: float,
) -> Week:
    """The week after today. `begun`: the first day of the shop's journal, None: it has none."""
    by_day = _film_by_day(came, usages, now=now, begun=begun)
    history_days = len(by_day) - (by_day.keys() == {now.date()})
    due, undated_m2 = _due_by_day(loads, now)
    days = tuple(_day(now.date() + timedelta(days=1 + ahead), by_day, due[ahead]) for ahead in range(DAYS))
    waiting = [*due[:-1], due[-1] + undated_m2]
    usual, busy = (
        needed_m2_h(arriving, waiting, hours_a_day=hours_a_day)
        for arriving in ([day.usual_m2 for day in days], [day.busy_m2 for day in days])
    )
    return Week(days, history_days, undated_m2, hours_a_day, usual, busy)


def needed_m2_h(arriving: Sequence[float], waiting: Sequence[float], *, hours_a_day: float) -> float:
    """The least speed that prints what arrives on each day within it, and what waits from the first day on by the day it is due.

    Both in m² by day, `waiting` by the day that it is due.
    """
    needed = max((film / hours_a_day for film in arriving), default=0.0)
    film = 0.0
    for day, (more, due) in enumerate(zip(arriving, waiting, strict=True), 1):
        film += more + due
        needed = max(needed, film / (day * hours_a_day))
    return needed


def heads_needed(week: Week, *, speed_m2_h: Mapping[int, float], heads: int) -> tuple[Heads, ...]:
    """Print heads at each number of passes of the printer's table, whose speeds are reached with `heads`.

    Speed grows with the number of heads: common practice, no source.
    """
    return tuple(
        Heads(passes, speed / heads, week.usual_m2_h / (speed / heads), week.busy_m2_h / (speed / heads))
        for passes, speed in sorted(speed_m2_h.items())
    )


def _film_by_day(came: Iterable[Came], usages: Mapping[str, Usage], *, now: datetime, begun: date | None) -> dict[date, float]:
    """Film of what came, by day: the whole days of the history, those without orders too; today where there are none yet."""
    today = now.date()
    first = max(begun or today, today - timedelta(weeks=WEEKS))
    by_day = {first + timedelta(days=ahead): 0.0 for ahead in range((today - first).days)} or {today: 0.0}
    for one in came:
        day = one.arrived.date()
        if day in by_day and one.stage not in _NOT_PRINTED:
            by_day[day] += film_of(one, one.copies, usages) or 0.0
    return by_day


def _due_by_day(loads: Iterable[Load], now: datetime) -> tuple[list[float], float]:
    """Film that waits, by the day from tomorrow on that it is due; and that of which no due time is known.

    What is due today or was before counts to tomorrow; what is due after the week not at all.
    """
    due, undated = [0.0] * DAYS, 0.0
    for load in loads:
        if load.due is None:
            undated += load.film_m2 or 0.0
            continue
        ahead = max(0, (load.due.astimezone(now.tzinfo).date() - now.date()).days - 1)
        if ahead < DAYS:
            due[ahead] += load.film_m2 or 0.0
    return due, undated


def _day(day: date, by_day: Mapping[date, float], due_m2: float) -> Day:
    same = [film for known, film in by_day.items() if known.weekday() == day.weekday()]
    films = same or list(by_day.values())
    busy = statistics.quantiles(films, n=5, method="inclusive")[-1] if len(films) > 1 else films[0]
    return Day(day, statistics.fmean(films), busy, due_m2, len(same))
