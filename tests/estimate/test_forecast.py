"""The forecast: a night and a week reckoned on paper, and the week's least speed against printing day by day."""

from datetime import UTC, date, datetime, time, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmhand.estimate.film_need import Load, Usage, loads_of, usage_of
from filmhand.estimate.forecast import night
from filmhand.estimate.outlook import History, Hours, outlooks
from filmhand.estimate.week import DAYS, coming_week, heads_needed, needed_m2_h
from filmhand.journal.history import Came, Laid
from filmhand.journal.states import JobStage, SheetStage
from filmhand.printer import Printer
from filmhand.rules import Rule
from filmhand.times import next_time

NOW = datetime(2031, 5, 7, 22, 0, tzinfo=UTC)  # a Wednesday
SIX = datetime(2031, 5, 8, 6, 0, tzinfo=UTC)
TABLE = {4: 12.0, 6: 8.0}


def came(
    stage: JobStage = JobStage.WAITING,
    *,
    copies: int = 10,
    size: tuple[float, float] | None = (100.0, 200.0),
    days_ago: float = 0,
    due: datetime | None = None,
) -> Came:
    """An artwork of the hot folder `dark`."""
    unplaced = copies if stage in (JobStage.CLAIMED, JobStage.WAITING, JobStage.HELD) else 0
    return Came("dark", "", stage, NOW - timedelta(days=days_ago), due, copies, unplaced, size)


def laid(
    name: str = "s",
    stage: SheetStage = SheetStage.DELIVERED,
    *,
    film_m2: float = 3.0,
    print_m2: float | None = 2.0,
    folder: str = "dark",
) -> Laid:
    """A sheet."""
    return Laid(name, folder, "", stage, film_m2, 5, print_m2, None)


def load(film_m2: float, due: datetime | None = None, folder: str = "dark") -> Load:
    """Film that waits."""
    return Load(folder, 1, film_m2, due, is_laid=False)


def rule(**gang: float) -> Rule:
    """A rule that prints 280 mm wide."""
    return Rule.model_validate({"title": "t", "size": {"width": "280 mm"}, "gang": {k: f"{v} mm" for k, v in gang.items()}})


# How much film


def test_film_by_what_the_hot_folder_used() -> None:
    """4 m² and 2 m² of film for 2 m² and 2 m² of prints: 1.5 times; a copy of 100 × 200 mm takes 0.03 m²."""
    sheets = [laid(film_m2=4, print_m2=2), laid(film_m2=2, print_m2=2), laid(folder="other", film_m2=9), laid(print_m2=None)]
    usage = usage_of("dark", [came()], sheets, rule=rule(gap=6))
    assert usage.film_m2((100, 200)) == pytest.approx(0.03)


def test_a_new_hot_folder_goes_by_the_shop() -> None:
    """All its sheets together: 9 m² of film for 6 m² of prints."""
    usage = usage_of("new", [], [laid(film_m2=3, print_m2=2), laid(folder="other", film_m2=6, print_m2=4)], rule=rule())
    assert usage.film_per_print == pytest.approx(1.5)


def test_a_new_shop_goes_by_gap_and_usual_density() -> None:
    """106 × 206 mm over 0.75 is 0.029115 m² (density: common practice, no source)."""
    usage = usage_of("dark", [], [], rule=rule(gap=6))
    assert usage.film_m2((100, 200)) == pytest.approx(0.0291147, abs=1e-6)
    assert usage.film_m2(None) == pytest.approx(286 * 286 / 0.75 / 1e6)  # the rule's size, its height unknown


def test_what_is_not_prepared_is_as_large_as_the_others() -> None:
    """30 copies of 0.02 m² and 10 of 0.06 m²: 0.03 m² in the mean; with no others and no size in the rule it is not known."""
    usage = usage_of("dark", [came(copies=30), came(copies=10, size=(300, 200))], [laid(film_m2=1, print_m2=1)], rule=rule())
    assert usage.film_m2(None) == pytest.approx(0.03)
    assert usage_of("dark", [came(size=None)], [], rule=None).film_m2(None) is None


def test_what_waits_to_be_printed() -> None:
    """Sheets first, without those that the controller took or that are held; then jobs, the first due first, undated last."""
    tomorrow = NOW + timedelta(days=1)
    loads = loads_of(
        [
            came(),
            came(due=tomorrow + timedelta(days=1)),
            came(JobStage.CLAIMED, size=None, due=tomorrow),
            came(JobStage.HELD),
            came(JobStage.SHEETED),
        ],
        [laid("taken"), laid("lies"), laid("sealed", SheetStage.SEALED), laid("held", SheetStage.HELD)],
        usages={"dark": Usage(1.5, (100.0, 100.0), 6)},
        untaken={"lies"},
    )
    assert [(one.is_laid, one.is_assumed, one.due) for one in loads] == [
        (True, False, None),
        (True, False, None),
        (False, True, tomorrow),
        (False, False, tomorrow + timedelta(days=1)),
        (False, False, None),
    ]
    assert [one.film_m2 for one in loads] == pytest.approx([3, 3, 10 * 0.015, 10 * 0.03, 10 * 0.03])


# Tonight


def test_a_night_by_hand() -> None:
    """72 m² from 22:00: at 12 m²/h until 04:00, at 8 m²/h until 07:00; the cut-off is at 06:00."""
    found = night([load(40), load(32)], speed_m2_h=TABLE, passes={"dark": None}, now=NOW, cut_off=SIX)
    four, six = found.finishes
    assert (four.passes, four.hours, four.ends, four.spare_hours) == (4, 6.0, datetime(2031, 5, 8, 4, tzinfo=UTC), 2.0)
    assert (six.passes, six.hours, six.ends, six.spare_hours) == (6, 9.0, datetime(2031, 5, 8, 7, tzinfo=UTC), -1.0)
    assert found.most_passes == 4
    assert found.by_rules is not None
    assert (found.by_rules.passes, found.by_rules.spare_hours) == ({"dark": 6}, -1.0)  # the slowest where the rule says none


def test_the_most_passes_that_end_in_time() -> None:
    """64 m² are done at 06:00 sharp with six passes, which is in time; 97 m² are too much for four."""
    for film, most in ((64.0, 6), (64.1, 4), (96.0, 4), (97.0, None)):
        assert night([load(film)], speed_m2_h=TABLE, passes={}, now=NOW, cut_off=SIX).most_passes == most


def test_each_rule_with_its_own_passes() -> None:
    """24 m² at four passes and 24 at six take 2 and 3 hours."""
    passes = {"dark": 4, "light": 6}
    found = night([load(24), load(24, folder="light")], speed_m2_h=TABLE, passes=passes, now=NOW, cut_off=SIX)
    assert found.by_rules is not None
    assert found.by_rules.hours == pytest.approx(5)


def test_no_speed_is_made_up() -> None:
    """A rule with eight passes: said, not reckoned; without a table nothing is."""
    found = night([load(24)], speed_m2_h=TABLE, passes={"dark": 8}, now=NOW, cut_off=SIX)
    assert (found.by_rules, found.without_speed, [one.passes for one in found.finishes]) == (None, (8,), [4, 6])
    found = night([load(24)], speed_m2_h={}, passes={}, now=NOW, cut_off=SIX)
    assert (found.finishes, found.most_passes, found.by_rules, found.without_speed) == ((), None, None, ())


def test_what_is_due_before_it_is_printed() -> None:
    """In the order that it is printed: 12 m² end at 23:00 or 23:30, 12 more at 24:00 or 01:00."""
    loads = [load(12, NOW + timedelta(minutes=75)), load(12, NOW + timedelta(hours=2)), load(12)]
    four, six = night(loads, speed_m2_h=TABLE, passes={}, now=NOW, cut_off=SIX).finishes
    assert (four.late, six.late) == (0, 2)


@pytest.mark.parametrize(
    ("clock", "at"), [(time(6), SIX), (time(22), NOW + timedelta(days=1)), (time(22, 1), NOW + timedelta(minutes=1))]
)
def test_the_next_time_the_clock_shows_it(clock: time, at: datetime) -> None:
    """Tomorrow where today's is now or past."""
    assert next_time(clock, NOW) == at


# The coming week


def test_a_week_by_hand() -> None:
    """Two weeks of history; mean and 80th percentile of two Thursdays, 6 m² and 9 m² of film, are 7.5 and 8.4 m²."""
    jobs = [
        came(JobStage.ARCHIVED, copies=200, days_ago=6),  # Thursday: 200 × 0.03 m²
        came(JobStage.ARCHIVED, copies=300, days_ago=13),
        came(JobStage.ARCHIVED, copies=100, days_ago=1),  # one of two Tuesdays
        came(JobStage.REJECTED, copies=999, days_ago=1),
        came(JobStage.WAITING, copies=999),  # today is not over
        came(JobStage.ARCHIVED, copies=999, days_ago=20),  # before the journal began, if its first job has been taken out
    ]
    dues = [
        load(5.0, NOW + timedelta(days=2)),
        load(1.0, NOW - timedelta(days=2)),
        load(3.0),
        load(50.0, NOW + timedelta(days=9)),
    ]
    week = coming_week(jobs, dues, usages={"dark": Usage(1.5, None, 6)}, now=NOW, begun=date(2031, 4, 23), hours_a_day=2.0)
    thursday, friday, *_, next_tuesday, _ = week.days
    assert (thursday.date, thursday.seen) == (date(2031, 5, 8), 2)
    assert (thursday.usual_m2, thursday.busy_m2, thursday.due_m2) == pytest.approx((7.5, 8.4, 1.0))
    assert (friday.usual_m2, friday.busy_m2, friday.due_m2) == pytest.approx((0, 0, 5.0))
    assert (next_tuesday.usual_m2, next_tuesday.busy_m2) == pytest.approx((1.5, 2.4))
    assert (week.history_days, week.undated_m2) == (14, 3.0)
    # Until Thursday night 7.5 + 1 m² in 2 h; until Friday night 7.5 + 1 + 5 m² in 4 h; all week 7.5 + 1.5 + 9 m² in 14 h.
    assert week.usual_m2_h == pytest.approx(4.25)
    assert week.busy_m2_h == pytest.approx(4.7)
    # Two heads reach 12 m²/h at four passes: 6 a head.
    four, six = heads_needed(week, speed_m2_h=TABLE, heads=2)
    assert (four.passes, four.m2_per_hour_a_head, four.usual, four.busy) == pytest.approx((4, 6.0, 4.25 / 6, 4.7 / 6))
    assert (six.usual, six.busy) == pytest.approx((4.25 / 4, 4.7 / 4))


def test_less_than_a_week_of_history() -> None:
    """Two days, 3 m² and 0: days that were not seen are their mean; on the first day of all, today alone."""
    usages = {"dark": Usage(1.5, None, 6)}
    week = coming_week([came(days_ago=2, copies=100)], [], usages=usages, now=NOW, begun=date(2031, 5, 5), hours_a_day=8)
    assert week.history_days == 2
    assert [day.usual_m2 for day in week.days] == pytest.approx([1.5] * 4 + [3.0, 0.0] + [1.5])
    week = coming_week([came(copies=100)], [], usages=usages, now=NOW, begun=NOW.date(), hours_a_day=8)
    assert week.history_days == 0
    assert [day.usual_m2 for day in week.days] == pytest.approx([3.0] * 7)
    week = coming_week([], [], usages={}, now=NOW, begun=None, hours_a_day=8)
    assert (week.history_days, week.usual_m2_h) == (0, 0.0)


def test_no_more_than_eight_weeks_count() -> None:
    """However old the journal is."""
    week = coming_week([], [], usages={}, now=NOW, begun=date(2020, 1, 1), hours_a_day=8)
    assert (week.history_days, {day.seen for day in week.days}) == (56, {8})


week_of_film = st.lists(st.floats(0, 100), min_size=DAYS, max_size=DAYS)


@given(week_of_film, week_of_film, st.floats(1, 24))
def test_the_least_speed_is_enough_and_less_is_not(arriving: list[float], waiting: list[float], hours: float) -> None:
    """Printed day by day, the first due first: nothing is left over at that speed, something is at a little less."""
    needed = needed_m2_h(arriving, waiting, hours_a_day=hours)
    assert left_over(arriving, waiting, needed * (1 + 1e-9) * hours) <= 1e-6
    if needed * hours > 0.1:
        assert left_over(arriving, waiting, needed * 0.99 * hours) > 1e-6


def left_over(arriving: list[float], waiting: list[float], film_a_day: float) -> float:
    """Film that is late when this much of what is there is printed a day, earliest due first."""
    queue, late = list(waiting), 0.0
    for day, film in enumerate(arriving):
        queue[day] += film
        room = film_a_day
        for due in range(day, DAYS):
            printed = min(room, queue[due])
            queue[due] -= printed
            room -= printed
        late += queue[day]
    return late


# All of it, by printer


def test_each_printer_has_its_own_queue() -> None:
    """Jobs and sheets of a second printer are its own; a printer that no rule names and that nothing waits for is left out."""
    printers = {
        name: Printer.model_validate({"name": name or "house", "film_width": "600 mm", "speed_m2_h": TABLE})
        for name in ("", "second", "spare")
    }
    history = History(
        (came(), Came("dark", "second", JobStage.WAITING, NOW, None, 4, 4, (100.0, 200.0))), (laid("here"),), NOW.date(), {"here"}
    )
    hours = Hours(NOW, SIX, 8)
    house, second = outlooks(history, printers=printers, rules={"dark": rule(gap=6)}, hours=hours)
    assert (house.printer.name, second.printer.name) == ("house", "second")
    assert house.night.film_m2 == pytest.approx(3.0 + 10 * 0.03)
    assert second.night.film_m2 == pytest.approx(4 * 106 * 206 / 0.75 / 1e6)
