"""Whether what waits is printed by the cut-off, at each number of passes that the printer file has a speed for.

Printing begins now and goes on until the cut-off. Only the speeds of the table are used: none is made up between or beyond them.
"""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from filmhand.estimate.film_need import Load


@dataclass(frozen=True)
class Finish:
    """The end of the queue at one number of passes. `spare_hours` below 0: so much too late.

    `late`: sheets and jobs that are due before they are printed.
    """

    passes: int
    m2_per_hour: float
    hours: float
    ends: datetime
    spare_hours: float
    late: int


@dataclass(frozen=True)
class ByRules:
    """The end of the queue with the passes that each rule says. `passes` by hot folder."""

    passes: Mapping[str, int]
    hours: float
    ends: datetime
    spare_hours: float


@dataclass(frozen=True)
class Night:
    """The queue, and when it ends.

    `most_passes`: the greatest number at which it ends in time; None: at none. `by_rules` is None where a rule's passes, named in
    `without_speed`, are not in the printer file.
    """

    cut_off: datetime
    film_m2: float
    finishes: tuple[Finish, ...]
    most_passes: int | None
    by_rules: ByRules | None
    without_speed: tuple[int, ...] = ()


def night(
    loads: Sequence[Load], *, speed_m2_h: Mapping[int, float], passes: Mapping[str, int | None], now: datetime, cut_off: datetime
) -> Night:
    """The queue's end. `speed_m2_h` by number of passes; `passes` of each hot folder's rule, None: the printer file's slowest."""
    finishes = tuple(_finish(loads, number, speed, now, cut_off) for number, speed in sorted(speed_m2_h.items()))
    wanted = {load.folder: passes.get(load.folder) or max(speed_m2_h, default=0) for load in loads}
    missing = sorted(set(wanted.values()) - set(speed_m2_h))
    return Night(
        cut_off=cut_off,
        film_m2=film_m2(loads),
        finishes=finishes,
        most_passes=max((one.passes for one in finishes if one.spare_hours >= 0), default=None),
        by_rules=None if missing else _by_rules(loads, wanted, speed_m2_h, now, cut_off),
        without_speed=tuple(number for number in missing if number),
    )


def film_m2(loads: Iterable[Load]) -> float:
    """All of it that is known."""
    return sum(load.film_m2 or 0.0 for load in loads)


def _finish(loads: Sequence[Load], passes: int, speed_m2_h: float, now: datetime, cut_off: datetime) -> Finish:
    end, late = now, 0
    for load in loads:
        end += timedelta(hours=(load.film_m2 or 0.0) / speed_m2_h)
        late += load.due is not None and load.due < end
    return Finish(passes, speed_m2_h, _hours(end - now), end, _hours(cut_off - end), late)


def _by_rules(
    loads: Sequence[Load], passes: Mapping[str, int], speed_m2_h: Mapping[int, float], now: datetime, cut_off: datetime
) -> ByRules:
    end = now + timedelta(hours=sum((load.film_m2 or 0.0) / speed_m2_h[passes[load.folder]] for load in loads))
    return ByRules(passes, _hours(end - now), end, _hours(cut_off - end))


def _hours(span: timedelta) -> float:
    return span / timedelta(hours=1)
