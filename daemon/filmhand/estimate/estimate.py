"""What a sheet takes: ink from the dots actually laid, film, powder, minutes, money. Estimates, by the printer file's figures."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Final

from filmhand import units
from filmhand.printer import Printer, is_white

ML_PER_PL: Final = 1e-9
MM2_PER_M2: Final = 1e6


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
    film that is pressed. `minutes` is None where the printer file has no speeds.
    """

    ink_ml: Mapping[str, float]
    film_m2: float
    covered_m2: float
    powder_g: float
    minutes: float | None
    minutes_by_passes: Mapping[int, float]
    cost: Cost

    def to_json(self) -> dict[str, Any]:
        """Plain values for a sheet's ticket, rounded to what an estimate can say."""
        return {
            "ink_ml": {ink: round(ml, 3) for ink, ml in self.ink_ml.items()},
            "film_m2": round(self.film_m2, 4),
            "powder_g": round(self.powder_g, 2),
            "minutes": None if self.minutes is None else round(self.minutes, 1),
            "minutes_by_passes": {str(passes): round(value, 1) for passes, value in self.minutes_by_passes.items()},
            "cost": {"total": round(self.cost.total, 2), **{part: round(value, 2) for part, value in asdict(self.cost).items()}},
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
    ink_ml = {ink: _ml(counts, printer.drop_pl.of(ink)) for ink, counts in dots.items()}
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
        cost=_cost(ink_ml, film_m2=film_m2, powder_g=powder_g, printer=printer),
    )


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


def _minutes(by_passes: Mapping[int, float], passes: int | None) -> float | None:
    """Minutes at a number of passes. One that the table lacks is reckoned from the nearest: time grows with the passes.

    That time is proportional to passes is common practice, no source.
    """
    if not by_passes:
        return None
    wanted = max(by_passes) if passes is None else passes
    nearest = min(by_passes, key=lambda known: (abs(known - wanted), -known))
    return by_passes[nearest] * wanted / nearest


def _cost(ink_ml: Mapping[str, float], *, film_m2: float, powder_g: float, printer: Printer) -> Cost:
    price = printer.price
    costs = {plane: ml / 1000 * price.of(plane) for plane, ml in ink_ml.items()}
    return Cost(
        ink=sum(cost for plane, cost in costs.items() if not is_white(plane)),
        white=sum(cost for plane, cost in costs.items() if is_white(plane)),
        film=film_m2 * price.film_per_m2,
        powder=powder_g / 1000 * price.powder_per_kg,
    )
