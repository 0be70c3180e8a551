"""Which of the printers that share a hot folder a job is prepared for.

Each job goes to the printer that will be through with its work first, so that all end the night at about the same time. A job
stays with its printer, for its colours are that printer's.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from statistics import fmean

from filmhand.journal import jobs, sheets
from filmhand.journal.journal import Journal
from filmhand.journal.records import Job, SheetRecord
from filmhand.journal.states import JobStage, SheetStage
from filmhand.printer import Printer
from filmhand.shop import Shop
from filmhand.units import MM2_PER_M2


def least_loaded(names: Sequence[str], printers: Mapping[str, Printer], film_m2: Mapping[str, float]) -> str:
    """The name of the printer with the fewest hours of work before it; of equals the one that the rule names first.

    `film_m2`: what each has yet to print, by name. Speeds are those of the slowest passes in the printer files; a printer
    without any is taken as fast as the slowest of the others.
    """
    speeds = {name: min(printers[name].speed_m2_h.values(), default=0.0) for name in names}
    slowest = min((speed for speed in speeds.values() if speed), default=1.0)
    return min(names, key=lambda name: film_m2.get(name, 0.0) / (speeds[name] or slowest))


def film_to_print(shop: Shop, journal: Journal) -> dict[str, float]:
    """Square metres that each printer has yet to print, by name: copies that wait, sheets that are made, sheets not yet taken."""
    on_way = (SheetStage.SEALED, SheetStage.STAGED, SheetStage.DELIVERING)
    waiting = [job for job in jobs.by_stage(journal, JobStage.CLAIMED, JobStage.WAITING) if job.printer]
    return reckoned(waiting, [*sheets.by_stage(journal, *on_way), *_not_taken(shop, journal)])


def reckoned(waiting: Iterable[Job], on_film: Iterable[SheetRecord]) -> dict[str, float]:
    """The same of given jobs and sheets: pure. A copy not yet prepared counts as the mean of those that are, or 1 m²."""
    waiting = list(waiting)
    known = [area for job in waiting if (area := _copy_m2(job)) is not None]
    mean = fmean(known) if known else 1.0
    film: dict[str, float] = defaultdict(float)
    for job in waiting:
        area = _copy_m2(job)
        film[job.printer] += job.copies * (mean if area is None else area)
    for sheet in on_film:
        film[sheet.printer] += sheet.film_width_mm * sheet.length_mm / MM2_PER_M2
    return dict(film)


def _copy_m2(job: Job) -> float | None:
    """The box of one copy; None where it is not known yet."""
    if "width_mm" not in job.prepared:
        return None
    return float(job.prepared["width_mm"] * job.prepared["height_mm"]) / MM2_PER_M2


def _not_taken(shop: Shop, journal: Journal) -> list[SheetRecord]:
    """Delivered sheets that still lie in the output folder."""
    found = (sheets.find(journal, name) for name in shop.handed_over())
    return [sheet for sheet in found if sheet is not None and sheet.stage is SheetStage.DELIVERED]
