"""Film that is yet to be printed: known of sheets, reckoned of other copies by what their hot folder used so far."""

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from filmhand.journal.history import Came, Laid
from filmhand.journal.states import JobStage, SheetStage
from filmhand.rules import Rule
from filmhand.units import MM2_PER_M2

USUAL_DENSITY: Final = 0.75
"""Share of the film that prints with their gaps take up, where the shop has laid out nothing yet: common practice, no source."""

Size = tuple[float, float]


@dataclass(frozen=True)
class Usage:
    """What film a copy of a hot folder takes.

    `film_per_print`: m² of film, margins, gaps and waste included, for a m² of printed width times height; None where nothing was
    laid out yet: then the rule's gap and a usual density say it. `size_mm`: taken for a copy that is not prepared yet.
    """

    film_per_print: float | None
    size_mm: Size | None
    gap_mm: float

    def film_m2(self, size_mm: Size | None) -> float | None:
        """Of one copy of a printed size; None where nothing says how large it is."""
        size = size_mm or self.size_mm
        if size is None:
            return None
        width, height = size
        if self.film_per_print is not None:
            return width * height * self.film_per_print / MM2_PER_M2
        return (width + self.gap_mm) * (height + self.gap_mm) / USUAL_DENSITY / MM2_PER_M2


@dataclass(frozen=True)
class Load:
    """Film that waits to be printed: a sheet's, or that of a job's copies on no sheet.

    `is_assumed`: the job is not prepared yet, its size is that of others. `film_m2` None: nothing says it.
    """

    folder: str
    copies: int
    film_m2: float | None
    due: datetime | None
    is_laid: bool
    is_assumed: bool = False


def usage_of(folder: str, came: Iterable[Came], laid: Iterable[Laid], *, rule: Rule | None) -> Usage:
    """Of a hot folder, by its own sheets and copies; where it has none, by all the shop's sheets and by its rule's size."""
    laid = [sheet for sheet in laid if sheet.print_m2]
    sizes = [(one.copies, one.size_mm) for one in came if one.folder == folder and one.size_mm is not None]
    copies = sum(count for count, _ in sizes)
    side = math.sqrt(sum(count * width * height for count, (width, height) in sizes) / copies) if copies else 0.0
    return Usage(
        film_per_print=_film_per_print([sheet for sheet in laid if sheet.folder == folder] or laid),
        size_mm=(side, side) if copies else _size_by_rule(rule),
        gap_mm=0.0 if rule is None else rule.gang.gap,
    )


def loads_of(
    came: Iterable[Came], laid: Iterable[Laid], *, usages: Mapping[str, Usage], untaken: Collection[str]
) -> tuple[Load, ...]:
    """What is to be printed, in the order that it is: sheets, oldest first, then what waits, the first due first.

    `untaken`: names of delivered sheets that the print controller has not taken yet. What is held waits for a person, not for the
    printer: it does not count.
    """
    on_way = (SheetStage.SEALED, SheetStage.STAGED, SheetStage.DELIVERING)
    sheets = [
        Load(sheet.folder, sheet.copies, sheet.film_m2, sheet.due, is_laid=True)
        for sheet in laid
        if sheet.stage in on_way or (sheet.stage is SheetStage.DELIVERED and sheet.name in untaken)
    ]
    waiting = [
        Load(one.folder, one.unplaced, film_of(one, one.unplaced, usages), one.due, False, one.size_mm is None)
        for one in came
        if one.stage in (JobStage.CLAIMED, JobStage.WAITING) and one.unplaced
    ]
    return (*sheets, *sorted(waiting, key=lambda load: math.inf if load.due is None else load.due.timestamp()))


def film_of(one: Came, copies: int, usages: Mapping[str, Usage]) -> float | None:
    """Film for copies of an artwork; None where nothing says how large it is."""
    film = usages[one.folder].film_m2(one.size_mm)
    return None if film is None else copies * film


def _film_per_print(sheets: Sequence[Laid]) -> float | None:
    if not sheets:
        return None
    return sum(sheet.film_m2 for sheet in sheets) / sum(sheet.print_m2 or 0.0 for sheet in sheets)


def _size_by_rule(rule: Rule | None) -> Size | None:
    """What the rule prints when nothing else says a size; a side that it does not say is taken as the other."""
    if rule is None:
        return None
    width, height = rule.size.width or rule.size.height, rule.size.height or rule.size.width
    return rule.size.max if width is None or height is None else (width, height)
