"""`filmhand forecast SHOP`: whether what waits is printed by the cut-off, and how many print heads the coming week needs."""

import json
import math
from collections.abc import Collection, Iterable
from dataclasses import asdict
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Any, Final

from rich.console import Console
from rich.table import Table

from filmhand.estimate.film_need import USUAL_DENSITY, Load
from filmhand.estimate.forecast import film_m2
from filmhand.estimate.outlook import History, Hours, Outlook, outlooks
from filmhand.estimate.week import WEEKS
from filmhand.journal import history
from filmhand.journal.journal import Journal
from filmhand.journal.states import JobStage, SheetStage
from filmhand.service.clock import SystemClock
from filmhand.shop import Shop, load_house
from filmhand.times import next_time
from filmhand.words import counted

_PLACES: Final = 3
_ALMOST: Final = 1e-9


def forecast(root: Path, *, by: time | None, ignore_out: bool, as_json: bool) -> None:
    """Say it. A running daemon is not disturbed, and none is needed."""
    shop = Shop.at(root)
    house, now = load_house(shop), SystemClock().now()
    known = _known(shop, now, ignore_out=ignore_out)
    hours = Hours(now, next_time(by or house.settings.cut_off, now), house.settings.printing_hours)
    rules = {name: rule.general for name, rule in house.rules.items()}
    found = outlooks(known, printers=house.printers, rules=rules, hours=hours)
    if as_json:
        print(json.dumps(_as_json(found, hours, known), indent=1, ensure_ascii=False))
        return
    console = Console(markup=False)
    console.print(f"Now {now:%a %d %b %H:%M}; the cut-off is {hours.cut_off:%a %H:%M}, in {_span(hours.cut_off - now)}.")
    if held := _held(known):
        console.print(f"Held, and not counted: {counted(held, 'copy', 'copies')}.")
    for one in found:
        _tell(console, one)


def _known(shop: Shop, now: datetime, *, ignore_out: bool) -> History:
    """What the journal and the output folder say; nothing, where nothing ever came."""
    if not shop.journal.exists():
        return History()
    since = now - timedelta(weeks=WEEKS)
    with Journal.read_only(shop.journal) as journal:
        came, laid, begun = history.came(journal, since=since), history.laid(journal, since=since), history.begun(journal)
    delivered = {sheet.name for sheet in laid if sheet.stage is SheetStage.DELIVERED}
    return History(came, laid, begun, frozenset() if ignore_out else delivered & shop.handed_over())


def _held(known: History) -> int:
    return sum(one.unplaced for one in known.came if one.stage in (JobStage.HOLDING, JobStage.HELD)) + sum(
        sheet.copies for sheet in known.laid if sheet.stage is SheetStage.HELD
    )


def _tell(console: Console, one: Outlook) -> None:
    """One printer's forecast."""
    console.print()
    if not one.loads:
        console.print(f"{one.printer.name}: nothing waits to be printed.")
    else:
        console.print(f"{one.printer.name}: {_queue(one)}")
        console.print(_night_table(one))
        console.print(_advice(one))
    if not any(day.usual_m2 for day in one.week.days) and not one.loads:
        console.print("Nothing has come yet that a coming week could be reckoned by.")
        return
    console.print(_week_table(one))
    console.print(_need(one))
    if one.heads:
        console.print(_heads_table(one))


def _queue(one: Outlook) -> str:
    """What waits, and what its film was reckoned by."""
    laid, waiting = [load for load in one.loads if load.is_laid], [load for load in one.loads if not load.is_laid]
    parts = []
    if laid:
        parts.append(f"{counted(len(laid), 'sheet', 'sheets')} ({film_m2(laid):.2f} m²)")
    if waiting:
        parts.append(f"{_copies(waiting)} on no sheet yet (about {film_m2(waiting):.2f} m²)")
    says = [f"{one.night.film_m2:.2f} m² of film wait: {' and '.join(parts)}."]
    if assumed := [load for load in waiting if load.is_assumed and load.film_m2 is not None]:
        says.append(f"Not prepared yet: {_copies(assumed)}, taken as large as others of their hot folder, or as its rule says.")
    if unknown := [load for load in waiting if load.film_m2 is None]:
        says.append(f"Not counted: {_copies(unknown)}, for nothing says how large.")
    new = sorted({load.folder for load in waiting if one.usages[load.folder].film_per_print is None})
    if new:
        says.append(f"No sheet was laid out yet for {', '.join(new)}: {USUAL_DENSITY:.0%} of its film is taken as used.")
    return " ".join(says)


def _night_table(one: Outlook) -> Table:
    table = Table("passes", "m²/h", "takes", "ends", f"by {one.night.cut_off:%H:%M}", "due sooner", title="What waits")
    for row in one.night.finishes:
        spare = timedelta(hours=abs(row.spare_hours))
        said = f"{_span(spare)} left" if row.spare_hours >= 0 else f"{_span(spare)} late"
        takes, late = _span(timedelta(hours=row.hours)), str(row.late or "")
        table.add_row(str(row.passes), f"{row.m2_per_hour:g}", takes, f"{row.ends:%a %d %b %H:%M}", said, late)
    return table


def _advice(one: Outlook) -> str:
    """The most passes in time, and what comes of those that the rules say."""
    tonight = one.night
    if not tonight.finishes:
        return "The printer file has no speeds (speed_m2_h): how long it takes cannot be said."
    if tonight.most_passes is not None:
        says = f"The most passes that end in time: {tonight.most_passes}."
    else:
        fastest = max(tonight.finishes, key=lambda row: row.m2_per_hour)
        ready = max(0.0, fastest.hours + fastest.spare_hours) * fastest.m2_per_hour
        says = f"No number of passes ends in time; {fastest.passes} passes print {ready:.2f} m² of it until then."
    if tonight.by_rules is None:
        return f"{says} Of the passes that rules say, the printer file has no speed for {_list(tonight.without_speed)}."
    passes = _list(sorted(set(tonight.by_rules.passes.values())))
    late = "in time" if tonight.by_rules.spare_hours >= 0 else f"{_span(timedelta(hours=-tonight.by_rules.spare_hours))} late"
    return f"{says} As the rules say ({passes} passes) it ends {tonight.by_rules.ends:%a %d %b %H:%M}, {late}."


def _week_table(one: Outlook) -> Table:
    table = Table("day", "usual m²", "busy m²", "due of what waits m²", title="The coming week")
    for day in one.week.days:
        due = f"{day.due_m2:.2f}" if day.due_m2 else ""
        table.add_row(f"{day.date:%a %d %b}", f"{day.usual_m2:.2f}", f"{day.busy_m2:.2f}", due)
    return table


def _need(one: Outlook) -> str:
    """What the week rests on, and the heads that it needs."""
    week = one.week
    says = [f"{_rests_on(week.history_days)}; usual: the mean, busy: what four of five such days do not exceed."]
    if week.undated_m2:
        says.append(f"{week.undated_m2:.2f} m² that wait without a due time are to be printed within the week.")
    says.append(f"In {week.hours_a_day:g} h a day that is {week.usual_m2_h:.2f} m²/h, busy {week.busy_m2_h:.2f} m²/h.")
    return " ".join(says)


def _heads_table(one: Outlook) -> Table:
    table = Table("passes", "m²/h a head", "heads, usual", "heads, busy", f"with {one.printer.heads}", title="Print heads needed")
    for row in one.heads:
        usual, busy = _whole(row.usual), _whole(row.busy)
        enough = (
            "enough" if busy <= one.printer.heads else "enough, but for busy days" if usual <= one.printer.heads else "too few"
        )
        cells = (f"{row.m2_per_hour_a_head:g}", f"{usual} ({row.usual:.2f})", f"{busy} ({row.busy:.2f})")
        table.add_row(str(row.passes), *cells, enough)
    return table


def _rests_on(days: int) -> str:
    if not days:
        return "There is no history but today's: the week is taken to be as today so far"
    if days < 7:  # noqa: PLR2004 -- a week
        has = counted(days, "whole day", "whole days")
        return f"The history has only {has}: days of the week that it lacks are taken as the mean of those it has"
    return f"From {days} days of the journal"


def _whole(heads: float) -> int:
    return math.ceil(heads - _ALMOST)


def _copies(loads: Iterable[Load]) -> str:
    return counted(sum(load.copies for load in loads), "copy", "copies")


def _list(numbers: Iterable[int]) -> str:
    return ", ".join(map(str, numbers))


def _span(span: timedelta) -> str:
    minutes = round(span / timedelta(minutes=1))
    return f"{minutes // 60}:{minutes % 60:02d} h"


def _as_json(found: Collection[Outlook], hours: Hours, known: History) -> dict[str, Any]:
    """The same as plain values: lengths of time in hours, film in m²."""
    printers = [
        {
            "printer": one.printer.name,
            "heads": one.printer.heads,
            "queue": [asdict(load) for load in one.loads],
            "night": asdict(one.night),
            "week": asdict(one.week),
            "heads_needed": [
                asdict(row) | {"usual_heads": _whole(row.usual), "busy_heads": _whole(row.busy)} for row in one.heads
            ],
        }
        for one in found
    ]
    times = {"now": hours.now, "cut_off": hours.cut_off}
    return {key: _plain(value) for key, value in (times | {"held_copies": _held(known), "printers": printers}).items()}


def _plain(value: Any) -> Any:
    """Times as ISO 8601, numbers rounded to what a forecast can say."""
    if isinstance(value, dict):
        return {str(key): _plain(inner) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(inner) for inner in value]
    if isinstance(value, float):
        return round(value, _PLACES)
    return (
        value.isoformat(timespec="seconds") if isinstance(value, datetime) else str(value) if isinstance(value, date) else value
    )
