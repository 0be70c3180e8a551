"""The report of a batch or a night: what came, what became of it, what it cost. Gathered from the journal, written for people."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from jinja2 import Environment, PackageLoader

from filmhand import durable
from filmhand.estimate.hand import Hand, together
from filmhand.gang.sheet import copies_on
from filmhand.journal import jobs, night_events, sheets
from filmhand.journal.journal import Journal
from filmhand.journal.night_events import FailedAttempt, Told
from filmhand.journal.records import Job, JobRole
from filmhand.journal.sheets import Balance
from filmhand.journal.states import JobStage, SheetStage
from filmhand.notices import night_words as words
from filmhand.notices.waits import WaitLine, what_waits
from filmhand.shop import House, Shop

MOST_LINES: Final = 400
"""Files that a page names; of the others it says how many there are."""
_MOST_IN_SUMMARY: Final = 12
_TAKEN_APART: Final = {
    JobRole.CONTAINER: "taken apart",
    JobRole.ORDER_LIST: "every line followed",
}


@dataclass(frozen=True)
class JobLine:
    """A job for people."""

    job: Job
    outcome: str
    place: str
    """Folder, from the shop's root, in which a person finds it."""


@dataclass(frozen=True)
class SheetLine:
    """A delivered sheet for people."""

    name: str
    place: str
    copies: int
    length_mm: float
    estimate: Mapping[str, Any]
    hand: Hand | None
    """Of all that lies on it; None where that is unknown of a copy."""
    film: str = ""
    """Why it lies on this film, where there was a choice."""
    orders: tuple[Mapping[str, Any], ...] = ()
    """What each order takes of it, as its ticket says."""


@dataclass(frozen=True)
class OrderLine:
    """What an order took of all the sheets."""

    name: str
    copies: int
    film_m2: float
    ink_ml: float
    powder_g: float
    cost: float


@dataclass(frozen=True)
class Night:
    """What happened since a time."""

    since: datetime
    jobs: tuple[JobLine, ...]
    sheets: tuple[SheetLine, ...]
    balance: Balance
    until: datetime | None = None
    """When it was gathered; None where that is when it is written."""
    came: tuple[Job, ...] = ()
    """Files that were claimed since."""
    failed: tuple[FailedAttempt, ...] = ()
    """Attempts that ended without a result, most of which were followed by another."""
    troubles: tuple[Told, ...] = ()
    """What stopped the line, and when it was over."""
    waits: tuple[WaitLine, ...] = ()
    """What waits at its end."""

    @property
    def cost(self) -> float:
        """Of all the sheets, in the shop's currency."""
        return sum(float(sheet.estimate["cost"]["total"]) for sheet in self.sheets)

    @property
    def hand(self) -> Hand | None:
        """Of all the sheets of which it is known."""
        known = [sheet.hand for sheet in self.sheets if sheet.hand is not None]
        return together(known) if known else None

    @property
    def outcomes(self) -> Mapping[str, int]:
        """Files by what became of them."""
        return Counter(line.outcome for line in self.jobs)

    @property
    def length_mm(self) -> float:
        """Of the film of all the sheets."""
        return sum(sheet.length_mm for sheet in self.sheets)

    @property
    def ink_ml(self) -> Mapping[str, float]:
        """Of all the sheets, by ink."""
        inks: Counter[str] = Counter()
        for sheet in self.sheets:
            inks.update(sheet.estimate["ink_ml"])
        return inks

    @property
    def powder_g(self) -> float:
        """Of all the sheets."""
        return sum(float(sheet.estimate["powder_g"]) for sheet in self.sheets)

    @property
    def minutes(self) -> float | None:
        """Of printing all the sheets; None where that is unknown of one."""
        known = [sheet.estimate["minutes"] for sheet in self.sheets]
        return None if None in known else sum(known)

    @property
    def orders(self) -> tuple[OrderLine, ...]:
        """What each order took, the dearest first."""
        return _orders(order for sheet in self.sheets for order in sheet.orders)

    @property
    def needs_somebody(self) -> tuple[WaitLine, ...]:
        """What goes on only when a person acts."""
        return tuple(line for line in self.waits if line.needs_somebody)


def gather(journal: Journal, *, since: datetime, house: House | None = None, until: datetime | None = None) -> Night:
    """Jobs and sheets that came to their present stage at or after `since`; with the settings, also what waits and why."""
    touched = jobs.touched(journal, since=since)
    done = [sheet for sheet in sheets.by_stage(journal, SheetStage.DELIVERED) if sheet.since >= since]
    return Night(
        until=until,
        came=tuple(job for job in touched if job.arrived >= since and job.role is JobRole.ARTWORK),
        failed=tuple(night_events.failures(journal, since=since)),
        troubles=tuple(night_events.troubles(journal, since=since)),
        waits=() if house is None else what_waits(journal, house),
        since=since,
        jobs=tuple(_job_line(job) for job in touched),
        sheets=tuple(
            SheetLine(
                name=sheet.name,
                place=f"out/{sheet.place}",
                copies=len(copies_on(sheets.placements(journal, sheet.id))),
                length_mm=sheet.length_mm,
                estimate=sheet.facts["estimate"],
                hand=Hand.from_json(sheet.facts["hand"]) if sheet.facts.get("hand") else None,
                film=sheet.film_why,
                orders=tuple(sheet.facts.get("orders") or ()),
            )
            for sheet in done
        ),
        balance=sheets.balance(journal),
    )


def write(shop: Shop, house: House, night: Night, *, at: datetime) -> Path:
    """A page under done/ and the day, the time in its name: the time of day for which it is, or of the batch's end."""
    folder = shop.done / f"{at:%Y-%m-%d}"
    durable.make_folder(folder)
    path = folder / f"report-{at:%H%M%S}.html"
    pages = Environment(loader=PackageLoader("filmhand.delivery"), autoescape=True)
    pages.filters |= {"saving": saving, "millilitres": millilitres}
    page = pages.get_template("report.html")
    durable.write(path, page.render(night=night, shop=house.settings.name, at=at, most=MOST_LINES).encode())
    return path


def as_text(night: Night, path: Path) -> str:
    """The same in a few lines for a terminal."""
    balance = night.balance
    lines = [f"{line.job.shown_name}: {line.outcome} → {line.place}" for line in night.jobs]
    lines += [f"{sheet.name}: {sheet.copies} copies on {sheet.length_mm / 1000:.2f} m → {sheet.place}" for sheet in night.sheets]
    lines.append(
        f"Copies ordered {balance.ordered}: delivered {balance.delivered}, on sheets {balance.on_sheets},"
        f" waiting {balance.waiting}, held {balance.held}, rejected {balance.rejected}"
    )
    if night.hand is not None:
        lines.append(_in_a_line(night.hand))
    return "\n".join([*lines, f"Report: {path}"])


def summary(night: Night, place: str) -> str:
    """The night in a few plain lines, for a message. `place`: of the page, from the shop's root."""
    count, lines = night.outcomes, []
    lines.append(
        f"Files that came: {len(night.came)}. Printed {count.get('printed', 0)}, held {count.get('held', 0)},"
        f" rejected {count.get('rejected', 0)}."
    )
    lines.append(
        f"Film {night.length_mm / 1000:.2f} m (sheets: {len(night.sheets)}), ink {sum(night.ink_ml.values()):.1f} ml,"
        f" cost {night.cost:.2f}."
    )
    lines += _some("Needs somebody", [f"{words.tame(line.what)}: {words.tame(line.why)}" for line in night.needs_somebody])
    lines += _some("Rejected", [_named(line) for line in night.jobs if line.outcome == "rejected"])
    lines += _some("Waits", [f"{words.tame(line.what)}: {words.tame(line.why)}" for line in night.waits if not line.do])
    lines += _some("Stopped the line", [f"{told.title} ({told.at:%H:%M})" for told in night.troubles])
    if night.failed:
        lines.append(f"Attempts that failed: {len(night.failed)}.")
    return "\n".join([*lines, f"The whole report: {place}"])


def saving(hand: Hand) -> str:
    """In words, the ink that was laid beside what full film would have taken."""
    percent = round(abs(hand.saved_percent))
    if percent == 0:
        return "as much ink as full film"
    difference = millilitres(abs(hand.full_film_ml - hand.ml))
    return f"{difference} of ink saved ({percent} %)" if hand.saved_percent > 0 else f"{difference} more ink than full film"


def millilitres(ml: float) -> str:
    """Ink for people: two places for little of it."""
    return f"{ml:.1f} ml" if ml >= 10 else f"{ml:.2f} ml"  # noqa: PLR2004


def _some(heading: str, lines: list[str]) -> list[str]:
    """A heading and the first of its lines; nothing where there are none."""
    more = [f"- and {len(lines) - _MOST_IN_SUMMARY} more"] if len(lines) > _MOST_IN_SUMMARY else []
    return [f"{heading}:", *(f"- {line}" for line in lines[:_MOST_IN_SUMMARY]), *more] if lines else []


def _named(line: JobLine) -> str:
    worst = line.job.worst
    why = "" if worst is None else f": {words.tame(str(worst.message))}"
    return f"{words.tame(line.job.shown_name)}{why}"


def _orders(parts: Iterable[Mapping[str, Any]]) -> tuple[OrderLine, ...]:
    sums: dict[str, list[Mapping[str, Any]]] = {}
    for part in parts:
        sums.setdefault(part["order"] or ", ".join(part["files"]), []).append(part)
    lines = [
        OrderLine(
            name=name,
            copies=sum(part["copies"] for part in of_it),
            film_m2=sum(part["film_m2"] for part in of_it),
            ink_ml=sum(sum(part["ink_ml"].values()) for part in of_it),
            powder_g=sum(part["powder_g"] for part in of_it),
            cost=sum(part["cost"]["total"] for part in of_it),
        )
        for name, of_it in sums.items()
    ]
    return tuple(sorted(lines, key=lambda line: -line.cost))


def _in_a_line(hand: Hand) -> str:
    return (
        f"Hand: {hand.film_g_m2:.0f} g/m² of print (full film: {hand.full_film_g_m2:.0f} g/m²),"
        f" {100 * hand.coverage:.0f} % covered, {saving(hand)}"
    )


def _job_line(job: Job) -> JobLine:
    if job.role is not JobRole.ARTWORK and job.stage in (JobStage.SPENT, JobStage.ARCHIVED):
        return JobLine(job, _TAKEN_APART[job.role], f"done/{job.since:%Y-%m-%d}")
    outcomes = {
        JobStage.ARCHIVED: ("printed", f"done/{job.since:%Y-%m-%d}"),
        JobStage.DELIVERED: ("printed", f"out/{job.folder}"),
        JobStage.HELD: ("held", f"held/{job.folder}/{job.place}"),
        JobStage.REJECTED: ("rejected", f"rejects/{job.folder}/{job.place}"),
    }
    outcome, place = outcomes.get(job.stage, ("waits", "for its sheet"))
    return JobLine(job, outcome, place)
