"""Which of the films in stock a sheet is laid on: the one on which what waits comes cheapest, by a quick estimate."""

from collections.abc import Sequence
from dataclasses import dataclass

from filmhand.gang.fill import estimate_length_mm, fits_sheet
from filmhand.gang.nest import Item
from filmhand.printer import Printer
from filmhand.rules import GangRules
from filmhand.units import MM2_PER_M2


@dataclass(frozen=True)
class Film:
    """A width of film, and what all that waits is reckoned to take of it, margins included."""

    width_mm: float
    length_mm: float

    @property
    def area_m2(self) -> float:
        """What is paid for: a square metre costs the same on every width."""
        return self.width_mm * self.length_mm / MM2_PER_M2


@dataclass(frozen=True)
class Chosen:
    """`printer` as it is with the chosen film in it; `why` in words, empty where there was no choice."""

    printer: Printer
    why: str = ""


def cheapest_film(items: Sequence[Item], *, printer: Printer, rules: GangRules) -> Chosen:
    """The film that takes all that waits for the least film money; where none takes all, the widest."""
    widths = sorted({*rules.films} or {printer.film_width})
    if len(widths) == 1:
        return Chosen(on_film(printer, widths[0]))
    films = [_reckoned(items, width, printer, rules) for width in widths]
    able = [film for film in films if film is not None]
    if not able:
        return Chosen(on_film(printer, widths[-1]), f"{widths[-1]:g} mm film, the widest: not every copy fits a sheet")
    best = min(able, key=lambda film: (film.area_m2, film.width_mm))
    others = "; ".join(_compared(film, width) for film, width in zip(films, widths, strict=True) if film != best)
    return Chosen(on_film(printer, best.width_mm), f"{_said(best)}, the cheapest in stock ({others})")


def on_film(printer: Printer, width_mm: float) -> Printer:
    """The printer with film of another width in it."""
    return printer if width_mm == printer.film_width else printer.model_copy(update={"film_width": width_mm})


def _reckoned(items: Sequence[Item], width_mm: float, printer: Printer, rules: GangRules) -> Film | None:
    """None where a copy does not fit this width."""
    if width_mm <= 2 * printer.margin:
        return None
    fitted = on_film(printer, width_mm)
    if not all(fits_sheet(item, printer=fitted, rules=rules) for item in {item.outline: item for item in items}.values()):
        return None
    return Film(width_mm, estimate_length_mm(items, printer=fitted, rules=rules))


def _said(film: Film) -> str:
    return f"{film.width_mm:g} mm film, about {film.area_m2:.2f} m²"


def _compared(film: Film | None, width_mm: float) -> str:
    return f"{width_mm:g} mm is too narrow" if film is None else f"{film.width_mm:g} mm: about {film.area_m2:.2f} m²"
