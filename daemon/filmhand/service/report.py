"""The report of a batch or a night: what came, what became of it, what it cost. Gathered from the journal, written for people."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from jinja2 import Environment, PackageLoader

from filmhand import durable
from filmhand.estimate.hand import Hand, together
from filmhand.journal import jobs, sheets
from filmhand.journal.journal import Journal
from filmhand.journal.records import Job, JobRole
from filmhand.journal.sheets import Balance
from filmhand.journal.states import JobStage, SheetStage
from filmhand.shop import House, Shop

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
class Night:
    """What happened since a time."""

    since: datetime
    jobs: tuple[JobLine, ...]
    sheets: tuple[SheetLine, ...]
    balance: Balance

    @property
    def cost(self) -> float:
        """Of all the sheets, in the shop's currency."""
        return sum(float(sheet.estimate["cost"]["total"]) for sheet in self.sheets)

    @property
    def hand(self) -> Hand | None:
        """Of all the sheets of which it is known."""
        known = [sheet.hand for sheet in self.sheets if sheet.hand is not None]
        return together(known) if known else None


def gather(journal: Journal, *, since: datetime) -> Night:
    """Jobs and sheets that came to their present stage at or after `since`."""
    touched = [job for job in jobs.by_stage(journal, *JobStage) if job.since >= since]
    done = [sheet for sheet in sheets.by_stage(journal, SheetStage.DELIVERED) if sheet.since >= since]
    return Night(
        since=since,
        jobs=tuple(_job_line(job) for job in touched),
        sheets=tuple(
            SheetLine(
                name=sheet.name,
                place=f"out/{sheet.place}",
                copies=len({(one.job, one.copy) for one in sheets.placements(journal, sheet.id)}),
                length_mm=sheet.length_mm,
                estimate=sheet.facts["estimate"],
                hand=Hand.from_json(sheet.facts["hand"]) if sheet.facts.get("hand") else None,
                film=sheet.facts.get("film", {}).get("why", ""),
                orders=tuple(sheet.facts.get("orders", ())),
            )
            for sheet in done
        ),
        balance=sheets.balance(journal),
    )


def write(shop: Shop, house: House, night: Night, *, at: datetime) -> Path:
    """report.html under done/ and the day; a later batch of the day has the time in its name."""
    folder = shop.done / f"{at:%Y-%m-%d}"
    durable.make_folder(folder)
    path = folder / f"report-{at:%H%M%S}.html"
    pages = Environment(loader=PackageLoader("filmhand.delivery"), autoescape=True)
    pages.filters |= {"saving": saving, "millilitres": millilitres}
    page = pages.get_template("report.html")
    durable.write(path, page.render(night=night, shop=house.settings.name, at=at).encode())
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
