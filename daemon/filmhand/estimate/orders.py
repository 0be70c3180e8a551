"""What each order of a sheet takes and costs: the sheet's own figures shared out, so that the orders come to the sheet.

Ink: each plane by what the copies' designs take of it. Powder: by what the copies have of film that is pressed. Film, all of its
length with margins, gaps and waste, and minutes: by the area that the copies take up. What belongs to no copy, ink of marks and
labels, is shared by that area too; so is ink and powder where it is unknown of a copy what its design takes.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from types import MappingProxyType
from typing import Any, Final

from filmhand.estimate.estimate import (
    COST_PLACES,
    FILM_PLACES,
    INK_PLACES,
    MINUTES_PLACES,
    POWDER_PLACES,
    Cost,
    Estimate,
    cost_of,
)
from filmhand.estimate.hand import Hand
from filmhand.gang.sheet import Placement, Sheet, copies_on
from filmhand.printer import Printer
from filmhand.units import MM2_PER_M2

_NO_INK: Final[Mapping[str, float]] = MappingProxyType({})
_PLACES: Final = {
    "ink_ml": INK_PLACES,
    "film_used_m2": FILM_PLACES,
    "film_m2": FILM_PLACES,
    "powder_g": POWDER_PLACES,
    "minutes": MINUTES_PLACES,
    "cost": COST_PLACES,
}


@dataclass(frozen=True)
class Design:
    """What is to be known of a job whose copies lie on a sheet.

    `taken_mm2`: area that its outline, or its box where boxes are nested, takes up on the film; by piece, as `Placement.part`
    counts them, those on other sheets too. `hand`: of one whole copy; None where that was never reckoned.
    """

    order: str | None
    file: str
    taken_mm2: Mapping[int, float]
    hand: Hand | None


@dataclass(frozen=True)
class OrderCost:
    """An order's share of a sheet. `order` is None where a job was ordered without one: then it stands for itself.

    `used_m2` is what its copies take up, `film_m2` that and its share of the rest. `minutes` as the sheet's.
    """

    order: str | None
    jobs: tuple[str, ...]
    files: tuple[str, ...]
    copies: int
    ink_ml: Mapping[str, float]
    used_m2: float
    film_m2: float
    powder_g: float
    minutes: float | None
    cost: Cost


@dataclass(frozen=True)
class _Shares:
    """By placement, its shares of a sheet: each list comes to 1. `ink_ml` by plane is in millilitres and comes to the sheet's."""

    area: list[float]
    powder: list[float]
    ink_ml: dict[str, list[float]]


def orders_of(
    sheet: Sheet, designs: Mapping[str, Design], *, laid: Estimate, printer: Printer, beside_ml: Mapping[str, float] = _NO_INK
) -> tuple[OrderCost, ...]:
    """The orders of a sheet, in the order of its placements.

    `designs` by job. `beside_ml`: what of the ink in `laid` is that of marks and labels, by plane.
    """
    shares = _shares_of(sheet, designs, laid=laid, beside_ml=beside_ml)
    members: dict[tuple[bool, str], list[int]] = {}
    for place, one in enumerate(sheet.placements):
        order = designs[one.job].order
        members.setdefault((order is None, one.job if order is None else order), []).append(place)
    return tuple(
        _order([(place, sheet.placements[place]) for place in places], designs, shares=shares, laid=laid, printer=printer)
        for places in members.values()
    )


def taken_m2(sheet: Sheet, designs: Mapping[str, Design]) -> float:
    """Film that the copies of a sheet take up themselves; all else of it is margin, gap or waste."""
    return math.fsum(_taken(designs, one) for one in sheet.placements) / MM2_PER_M2


def orders_json(orders: Sequence[OrderCost], laid: Estimate) -> list[dict[str, Any]]:
    """Plain values for a sheet's ticket, rounded so that every figure of the orders adds up to what the ticket says of the sheet.

    Each figure is rounded for itself, the total of a cost too: as in the sheet's own, its parts may miss it by a cent.
    """
    exact = [_figures(one) for one in orders]
    columns = {
        (name, part): apportioned([one[name, part] for one in exact], whole, _PLACES[name])
        for (name, part), whole in _figures(laid).items()
    }
    return [_row(one, {key: column[row] for key, column in columns.items()}) for row, one in enumerate(orders)]


def apportioned(values: Sequence[float], total: float, places: int) -> list[float]:
    """Values of at least 0 that come to `total`, rounded to decimal places so that they come to the rounded total.

    Largest remainders (Hamilton's method): each is rounded down, and what is missing goes to those that lost most by it.
    """
    scale = 10**places
    units = [value * scale for value in values]
    whole = [math.floor(unit) for unit in units]
    missing = round(round(total, places) * scale) - sum(whole)
    first = set(sorted(range(len(values)), key=lambda one: (whole[one] - units[one], one))[:missing])
    return [round((unit + (place in first)) / scale, places) for place, unit in enumerate(whole)]


def _figures(one: OrderCost | Estimate) -> dict[tuple[str, str], float]:
    """What is known of an order or of its sheet, exact, by name and by plane or purpose."""
    single = {"film_used_m2": one.used_m2, "film_m2": one.film_m2, "powder_g": one.powder_g, "minutes": one.minutes}
    return {
        **{("ink_ml", plane): ml for plane, ml in one.ink_ml.items()},
        **{(name, ""): value for name, value in single.items() if value is not None},
        ("cost", "total"): one.cost.total,
        **{("cost", part): money for part, money in asdict(one.cost).items()},
    }


def _row(one: OrderCost, rounded: Mapping[tuple[str, str], float]) -> dict[str, Any]:
    """An order for JSON."""
    row: dict[str, Any] = {"order": one.order, "jobs": list(one.jobs), "files": list(one.files), "copies": one.copies}
    row |= {"ink_ml": {}, "minutes": None, "cost": {}}
    for (name, part), value in rounded.items():
        if part:
            row[name][part] = value
        else:
            row[name] = value
    return row


def _shares_of(sheet: Sheet, designs: Mapping[str, Design], *, laid: Estimate, beside_ml: Mapping[str, float]) -> _Shares:
    copies = sheet.placements
    area = _shares([_taken(designs, one) for one in copies], otherwise=[1.0] * len(copies))
    hands = _hands(sheet, designs)
    ink_ml = {}
    for plane, ml in laid.ink_ml.items():
        beside = min(ml, beside_ml.get(plane, 0.0))
        own = _shares([portion * hand.ink_ml.get(plane, 0.0) for portion, hand in hands], otherwise=area)
        ink_ml[plane] = [(ml - beside) * of_own + beside * of_all for of_own, of_all in zip(own, area, strict=True)]
    powder = _shares([portion * hand.print_m2 * hand.coverage for portion, hand in hands], otherwise=area)
    return _Shares(area, powder, ink_ml)


def _order(
    copies: Sequence[tuple[int, Placement]], designs: Mapping[str, Design], *, shares: _Shares, laid: Estimate, printer: Printer
) -> OrderCost:
    """The sum of an order's copies, each with its place among the sheet's."""
    places = [place for place, _ in copies]
    area, powder = (math.fsum(column[place] for place in places) for column in (shares.area, shares.powder))
    ink_ml = {plane: math.fsum(column[place] for place in places) for plane, column in shares.ink_ml.items()}
    jobs = tuple(dict.fromkeys(one.job for _, one in copies))
    film_m2, powder_g = area * laid.film_m2, powder * laid.powder_g
    return OrderCost(
        order=designs[jobs[0]].order,
        jobs=jobs,
        files=tuple(dict.fromkeys(designs[job].file for job in jobs)),
        copies=len(copies_on(one for _, one in copies)),
        ink_ml=ink_ml,
        used_m2=math.fsum(_taken(designs, one) for _, one in copies) / MM2_PER_M2,
        film_m2=film_m2,
        powder_g=powder_g,
        minutes=None if laid.minutes is None else area * laid.minutes,
        cost=cost_of(ink_ml, film_m2=film_m2, powder_g=powder_g, printer=printer),
    )


def _taken(designs: Mapping[str, Design], one: Placement) -> float:
    return designs[one.job].taken_mm2[one.part]


def _hands(sheet: Sheet, designs: Mapping[str, Design]) -> list[tuple[float, Hand]]:
    """By placement, which part of its whole copy it is, and that copy's hand; empty where one is unknown."""
    hands = []
    for one in sheet.placements:
        design = designs[one.job]
        if design.hand is None:
            return []
        whole = math.fsum(design.taken_mm2.values())
        hands.append((_taken(designs, one) / whole if whole else 1.0, design.hand))
    return hands


def _shares(weights: Sequence[float], *, otherwise: Sequence[float]) -> list[float]:
    """Weights over their sum; where there is nothing to weigh, `otherwise`."""
    chosen = weights if math.fsum(weights) > 0 else otherwise
    whole = math.fsum(chosen)
    return [weight / whole for weight in chosen]
