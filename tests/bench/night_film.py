"""The film of the demonstration's night: by outlines, by boxes and by a plain shelf packing, side by side, and with labels.

    python tests/bench/night_film.py [--seconds 20] [--prepared FOLDER]

The demonstration's artwork is prepared once as the service does it (what it holds or rejects stays out), and the copies ordered
are laid on the starter printer's film, a sheet or more a hot folder, by its rule's gap and rotations. Outlines: with small copies
in the holes of rings and frames and without, and with labels. Boxes: filmhand's own packing of them. Shelves: next-fit
decreasing height (Coffman, Garey, Johnson and Tarjan, "Performance bounds for level-oriented two-dimensional packing
algorithms", SIAM J. Comput. 9, 1980), each box lying on its longer side or all as drawn, whichever is shorter; it is written
here for comparison and no part of filmhand. Lengths in mm with margins and marks at both ends of a sheet; seconds are those of
laying out. `--prepared`: keep the prepared designs there, or use those. Nothing here is asserted.
"""

import argparse
import tempfile
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from filmhand.cli.new import make
from filmhand.demo.draw import DemoFile, draw_artworks
from filmhand.gang.fill import fill_sheet
from filmhand.intake.read_ticket import read_ticket
from filmhand.marks.sheet_marks import foot_mm, head_mm
from filmhand.preflight.finding import Finding, Severity
from filmhand.rules import Nest
from filmhand.service import reload
from filmhand.shop import House, Shop
from filmhand.work.lay_out import LayOutTask, items_of, shapes_of
from filmhand.work.prepare import OUTLINE, PrepareTask, prepare

Size = tuple[float, float]


@dataclass(frozen=True)
class Laid:
    """Lengths of the sheets, mm, and seconds spent."""

    lengths: tuple[float, ...]
    seconds: float


def night(folder: Path) -> dict[str, LayOutTask]:
    """The demonstration's orders by hot folder, their artwork prepared into a folder unless it is there."""
    shop = Shop.at(folder) if (folder / "shop.toml").exists() else make(folder)
    house = reload.load(shop)
    waiting: dict[str, list[tuple[str, tuple[int, ...], Path]]] = {}
    for file in draw_artworks(folder / "artwork"):
        copies = prepared(file, shop, house)
        if copies:
            waiting.setdefault(file.hot_folder, []).append((file.name, tuple(range(1, copies + 1)), shop.cache / file.name))
    return {
        name: LayOutTask(tuple(jobs), house.printer, house.rules[name].general.gang, seed=1, cache=shop.cache)
        for name, jobs in waiting.items()
    }


def prepared(file: DemoFile, shop: Shop, house: House) -> int:
    """How many copies of a file are to be printed; 0 of one that is held or rejected."""
    rule = house.rules[file.hot_folder]
    ticket = read_ticket(file.name, ticket_file=file.ticket, rule=rule.general, tables=house.tables)
    if isinstance(ticket, Finding):
        return 0
    target = shop.cache / file.name
    if not target.is_dir():
        task = PrepareTask(
            original=file.path,
            name=file.name,
            page=0,
            is_part=False,
            ticket=ticket,
            rule=rule,
            printer=house.printer,
            known=(),
            approved=False,
            base=shop.root,
            cache=shop.cache,
            target=target,
            colours=house.tables.colours,
        )
        if prepare(task).verdict >= Severity.HOLD:
            print(f"  {file.name} is not printed")
    return (ticket.copies or 1) if (target / OUTLINE).exists() else 0


def by_filmhand(orders: LayOutTask, **rules: Any) -> Laid:
    """Sheet after sheet as the service fills them, by the rule with some keys otherwise; without labels unless they say so."""
    task = replace(orders, rules=orders.rules.model_copy(update={"labels": False, **rules}))
    waiting, lengths, began = tuple(items_of(task, shapes_of(task))), list[float](), time.perf_counter()
    while waiting:
        filled = fill_sheet(waiting, printer=task.printer, rules=task.rules, seed=task.seed, clock=time.monotonic)
        waiting = filled.left
        lengths.append(filled.length_mm)
    return Laid(tuple(lengths), time.perf_counter() - began)


def by_shelves(orders: LayOutTask) -> Laid:
    """One sheet however long, its boxes on shelves."""
    task = replace(orders, rules=orders.rules.model_copy(update={"labels": False}))
    drawn = [(item.outline.width_mm, item.outline.height_mm) for item in items_of(task, shapes_of(task))]
    width, began = task.printer.printable_width, time.perf_counter()
    ends = 2 * task.printer.margin + head_mm(task.rules) + foot_mm(task.rules)
    lying = [(max(size), min(size)) if max(size) <= width else (min(size), max(size)) for size in drawn]
    upright = [size if size[0] <= width else size[::-1] for size in drawn]
    length = min(shelves(sizes, width_mm=width, gap_mm=task.rules.gap) for sizes in (lying, upright))
    return Laid((length + ends,), time.perf_counter() - began)


def shelves(sizes: Sequence[Size], *, width_mm: float, gap_mm: float) -> float:
    """Length by next-fit decreasing height: boxes from the highest down, each shelf filled from the left, no way back to it."""
    length, depth, used = 0.0, 0.0, width_mm + 1
    for width, height in sorted(sizes, key=lambda size: -size[1]):
        if used + width > width_mm:
            length += depth + gap_mm * (depth > 0)
            depth, used = height, 0.0
        used += width + gap_mm
    return length + depth


def compared(orders: Mapping[str, LayOutTask], seconds: float) -> None:
    """A column a hot folder, a row a way."""
    ways: Mapping[str, Callable[[LayOutTask], Laid]] = {
        "shelves of boxes": by_shelves,
        "boxes": lambda one: by_filmhand(one, nest=Nest.BOX),
        "outlines, holes left empty": lambda one: by_filmhand(one, nest=Nest.OUTLINE, inside=False, seconds=seconds),
        "outlines, art in holes": lambda one: by_filmhand(one, nest=Nest.OUTLINE, inside=True, seconds=seconds),
        "outlines with labels": lambda one: by_filmhand(one, nest=Nest.OUTLINE, labels=True, seconds=seconds),
    }
    print(f"{'film, mm':28} {' '.join(f'{name:>14}' for name in orders)} {'together':>14}   of shelves  seconds")
    print(f"{'copies':28} {' '.join(f'{sum(len(copies) for _, copies, _ in one.waiting):14}' for one in orders.values())}")
    whole = None
    for name, way in ways.items():
        laid = [way(one) for one in orders.values()]
        total = sum(sum(one.lengths) for one in laid)
        whole = whole or total
        lengths = " ".join(f"{sum(one.lengths):10.0f} ({len(one.lengths)})" for one in laid)
        print(f"{name:28} {lengths} {total:14.0f} {total / whole:12.1%} {sum(one.seconds for one in laid):8.1f}", flush=True)
    print("(in brackets: sheets)")


def main() -> None:
    """Prepare, then lay out."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seconds", type=float, default=20.0)
    parser.add_argument("--prepared", type=Path)
    chosen = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        compared(night(chosen.prepared or Path(scratch)), chosen.seconds)


if __name__ == "__main__":
    main()
