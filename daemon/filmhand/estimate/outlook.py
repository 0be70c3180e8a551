"""The forecast for one printer: what waits for it, when that is printed, and what the coming week asks of it. Pure."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from filmhand.estimate.film_need import Load, Usage, loads_of, usage_of
from filmhand.estimate.forecast import Night, night
from filmhand.estimate.week import Heads, Week, coming_week, heads_needed
from filmhand.journal.history import Came, Laid
from filmhand.printer import Printer
from filmhand.rules import Rule


@dataclass(frozen=True)
class History:
    """What the journal knows. `begun`: its first day; `untaken`: names of delivered sheets that the controller has not taken."""

    came: tuple[Came, ...] = ()
    laid: tuple[Laid, ...] = ()
    begun: date | None = None
    untaken: Collection[str] = ()


@dataclass(frozen=True)
class Hours:
    """The times that a forecast goes by."""

    now: datetime
    cut_off: datetime
    a_day: float


@dataclass(frozen=True)
class Outlook:
    """Of one printer. `usages` by hot folder; `heads`: at each number of passes."""

    printer: Printer
    loads: tuple[Load, ...]
    usages: Mapping[str, Usage]
    night: Night
    week: Week
    heads: tuple[Heads, ...]


def outlooks(
    history: History, *, printers: Mapping[str, Printer], rules: Mapping[str, Rule], hours: Hours
) -> tuple[Outlook, ...]:
    """Of each printer that a rule names or that something waits for. `printers` as jobs name them; `rules` by hot folder."""
    named = {name for rule in rules.values() for name in rule.gang.printer_names}
    named |= {one.printer for one in history.came} | {sheet.printer for sheet in history.laid}
    return tuple(
        _outlook(history, name, printer, rules=rules, hours=hours) for name, printer in printers.items() if name in named
    )


def _outlook(history: History, name: str, printer: Printer, *, rules: Mapping[str, Rule], hours: Hours) -> Outlook:
    came = [one for one in history.came if one.printer == name]
    laid = [sheet for sheet in history.laid if sheet.printer == name]
    usages = _usages(came, laid, rules)
    loads = loads_of(came, laid, usages=usages, untaken=history.untaken)
    passes = {folder: rule.output.passes for folder, rule in rules.items()}
    tonight = night(loads, speed_m2_h=printer.speed_m2_h, passes=passes, now=hours.now, cut_off=hours.cut_off)
    week = coming_week(came, loads, usages=usages, now=hours.now, begun=history.begun, hours_a_day=hours.a_day)
    heads = heads_needed(week, speed_m2_h=printer.speed_m2_h, heads=printer.heads)
    return Outlook(printer, loads, usages, tonight, week, heads)


def _usages(came: Sequence[Came], laid: Sequence[Laid], rules: Mapping[str, Rule]) -> dict[str, Usage]:
    folders = sorted({one.folder for one in came} | {sheet.folder for sheet in laid})
    return {folder: usage_of(folder, came, laid, rule=rules.get(folder)) for folder in folders}
