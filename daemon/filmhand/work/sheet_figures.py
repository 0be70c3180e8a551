"""What a made sheet takes, as its ticket says it: the whole, its hand, and each order's share."""

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from filmhand.delivery.sheet_ticket import CopyFacts
from filmhand.estimate.estimate import Estimate, estimate, ink_ml_of
from filmhand.estimate.hand import sheet_hand
from filmhand.estimate.orders import Design, orders_json, orders_of, taken_m2
from filmhand.gang.composed import Composed
from filmhand.gang.sheet import Sheet, copies_on
from filmhand.rules import Nest, Printer, Rule
from filmhand.work.prepare import outline_in


def sheet_figures(
    sheet: Sheet,
    facts: Mapping[str, CopyFacts],
    composed: Composed,
    *,
    printer: Printer,
    rule: Rule,
    folders: Mapping[tuple[str, int], Path],
) -> dict[str, Any]:
    """The ticket's `estimate`, `hand` and `orders`, from the dots that were laid. `folders`: of separations, by job and part."""
    laid = estimate(composed.dots, composed.film_dots, length_mm=sheet.length_mm, printer=printer, passes=rule.output.passes)
    designs = _designs(facts, folders, by_box=rule.gang.nest is Nest.BOX)
    laid = replace(laid, used_m2=taken_m2(sheet, designs))
    beside_ml = ink_ml_of(composed.mark_dots, printer=printer)
    orders = orders_of(sheet, designs, laid=laid, printer=printer, beside_ml=beside_ml)
    hand = _hand(laid, sheet, facts, printer)
    return {"estimate": laid.to_json(), "hand": hand, "orders": orders_json(orders, laid)}


def _designs(facts: Mapping[str, CopyFacts], folders: Mapping[tuple[str, int], Path], *, by_box: bool) -> dict[str, Design]:
    """By job, with the area of each of its pieces on the film."""
    taken: dict[str, dict[int, float]] = {}
    for (job, part), folder in folders.items():
        outline = outline_in(folder)
        area = outline.width_mm * outline.height_mm if by_box else outline.taken_mm2(0.0)
        taken.setdefault(job, {})[part] = area
    return {job: Design(one.ticket.order, one.shown_name, taken[job], one.hand) for job, one in facts.items()}


def _hand(laid: Estimate, sheet: Sheet, facts: Mapping[str, CopyFacts], printer: Printer) -> dict[str, Any] | None:
    """Of all copies, a copy in pieces counted once."""
    hand = sheet_hand(laid, [facts[job].hand for job, _ in copies_on(sheet.placements)], printer=printer)
    return None if hand is None else hand.to_json()
