"""What a sheet takes: ink from the dots actually laid, film, powder, minutes, money. Estimates, by the printer file's figures."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Final

from filmhand import units
from filmhand.printer import Printer, is_white
from filmhand.units import MM2_PER_M2

ML_PER_PL: Final = 1e-9

INK_PLACES: Final = 3
FILM_PLACES: Final = 4
POWDER_PLACES: Final = 2
MINUTES_PLACES: Final = 1
COST_PLACES: Final = 2
"""Decimal places that an estimate can say."""


@dataclass(frozen=True)
class Cost:
    """Money in the shop's currency, by what it is for."""

    ink: float
    white: float
    film: float
    powder: float

    @property
    def total(self) -> float:
        """All of it."""
        return self.ink + self.white + self.film + self.powder


@dataclass(frozen=True)
class Estimate:
    """What a sheet takes. `ink_ml` is by plane. `film_m2` is all of its length, margins included; `covered_m2` what of it carries
    film that is pressed. `minutes` is None where the printer file has no speeds. `used_m2`: what of the film the copies take up,
    by their outlines or boxes; None where that is not known.
    """

    ink_ml: Mapping[str, float]
    film_m2: float
    covered_m2: float
    powder_g: float
    minutes: float | None
    minutes_by_passes: Mapping[int, float]
    cost: Cost
    used_m2: float | None = None

    def to_json(self) -> dict[str, Any]:
        """Plain values for a sheet's ticket, rounded to what an estimate can say."""
        film, cost = round(self.film_m2, FILM_PLACES), {"total": self.cost.total, **asdict(self.cost)}
        used = {} if self.used_m2 is None else _used_and_wasted(film, round(self.used_m2, FILM_PLACES))
        by_passes = {str(passes): round(value, MINUTES_PLACES) for passes, value in self.minutes_by_passes.items()}
        return {
            "ink_ml": {ink: round(ml, INK_PLACES) for ink, ml in self.ink_ml.items()},
            "film_m2": film,
            **used,
            "powder_g": round(self.powder_g, POWDER_PLACES),
            "minutes": None if self.minutes is None else round(self.minutes, MINUTES_PLACES),
            "minutes_by_passes": by_passes,
            "cost": {part: round(value, COST_PLACES) for part, value in cost.items()},
        }


def estimate(
    dots: Mapping[str, Sequence[float]], film_dots: float, *, length_mm: float, printer: Printer, passes: int | None
) -> Estimate:
    """What a sheet of this length (margins included) takes.

    `dots`: how many dots of each plane, one number for each drop size, smallest first; a second white is a plane of its own.
    Continuous tone (`bits = 8`) counts as its equivalent in full dots: the sum of its values / 255. `film_dots`: device dots that
    carry film, whatever their ink.
    `passes`: the number of passes it is printed with; None: the greatest of the printer's speed table.
    """
    ink_ml = ink_ml_of(dots, printer=printer)
    film_m2 = printer.film_width * length_mm / MM2_PER_M2
    covered_m2 = film_dots * dot_mm2(printer) / MM2_PER_M2
    powder_g = printer.price.powder_g_m2 * covered_m2
    by_passes = {passes: film_m2 / speed * 60 for passes, speed in sorted(printer.speed_m2_h.items())}
    return Estimate(
        ink_ml=ink_ml,
        film_m2=film_m2,
        covered_m2=covered_m2,
        powder_g=powder_g,
        minutes=_minutes(by_passes, passes),
        minutes_by_passes=by_passes,
        cost=cost_of(ink_ml, film_m2=film_m2, powder_g=powder_g, printer=printer),
    )


def passes_of(printer: Printer, passes: int | None) -> int | None:
    """The number of passes that minutes are reckoned by: as asked, else the greatest of the speed table; None without either."""
    return max(printer.speed_m2_h, default=None) if passes is None else passes


def ink_ml_of(dots: Mapping[str, Sequence[float]], *, printer: Printer) -> dict[str, float]:
    """Millilitres by plane; `dots` as for `estimate`."""
    return {plane: _ml(counts, printer.drop_pl.of(plane)) for plane, counts in dots.items()}


def _ml(counts: Sequence[float], volumes_pl: Sequence[float]) -> float:
    """Millilitres of ink in dots. Where only the full drop's volume is known, smaller drops are taken as equal steps up to it.

    Equal steps are common practice, no source. Where the printer has several drops but one is counted, that is the full drop.
    """
    full = volumes_pl[-1]
    if len(volumes_pl) != len(counts):
        volumes_pl = [full * (size + 1) / len(counts) for size in range(len(counts))]
    return sum(count * volume for count, volume in zip(counts, volumes_pl, strict=True)) * ML_PER_PL


def dot_mm2(printer: Printer) -> float:
    """The area of a dot of the printer's grid."""
    across, along = printer.resolution
    return units.px_to_mm(1, across) * units.px_to_mm(1, along)


def _used_and_wasted(film_m2: float, used_m2: float) -> dict[str, float]:
    """Rounded so that the two come to the film."""
    return {"film_used_m2": used_m2, "film_wasted_m2": round(film_m2 - used_m2, FILM_PLACES)}


def _minutes(by_passes: Mapping[int, float], passes: int | None) -> float | None:
    """Minutes at a number of passes. One that the table lacks is reckoned from the nearest: time grows with the passes.

    That time is proportional to passes is common practice, no source.
    """
    if not by_passes:
        return None
    wanted = max(by_passes) if passes is None else passes
    nearest = min(by_passes, key=lambda known: (abs(known - wanted), -known))
    return by_passes[nearest] * wanted / nearest


def cost_of(ink_ml: Mapping[str, float], *, film_m2: float, powder_g: float, printer: Printer) -> Cost:
    """What ink, film and powder cost; `ink_ml` by plane."""
    price = printer.price
    costs = {plane: ml / 1000 * price.of(plane) for plane, ml in ink_ml.items()}
    return Cost(
        ink=sum(cost for plane, cost in costs.items() if not is_white(plane)),
        white=sum(cost for plane, cost in costs.items() if is_white(plane)),
        film=film_m2 * price.film_per_m2,
        powder=powder_g / 1000 * price.powder_per_kg,
    )
