"""Laying waiting copies out on a sheet. Runs in a child process, for nesting may take its time and its memory."""

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import count
from pathlib import Path
from time import monotonic

from filmhand import durable
from filmhand.gang.fill import Filled, fill_sheet, label_room, sheet_key
from filmhand.gang.films import cheapest_film, on_film
from filmhand.gang.labelled import Room, labelled
from filmhand.gang.nest import Item
from filmhand.gang.outline import Outline
from filmhand.gang.shape import Shape, picture_placed
from filmhand.gang.sheet import Placement, copies_on
from filmhand.gang.stored import part_of
from filmhand.journal.records import placement_values
from filmhand.rules import GangRules, Printer
from filmhand.work.prepare import OUTLINE, outline_in

Shapes = Mapping[tuple[str, int], Shape]
"""By job and part: 0 for a design in one piece."""


@dataclass(frozen=True)
class LayOutTask:
    """All that a layout needs: (job, its waiting copy numbers, the folder of its separation), the most urgent first."""

    waiting: tuple[tuple[str, tuple[int, ...], Path], ...]
    printer: Printer
    rules: GangRules
    seed: int
    cache: Path
    """Where finished layouts are kept."""


@dataclass(frozen=True)
class LaidOut:
    """A sheet to be: pictures and labels in film coordinates, and the film."""

    placements: tuple[Placement, ...]
    film_width_mm: float
    length_mm: float
    why: str
    """Why it is this film, where there was a choice."""
    note: str
    """What an operator may want to know of how it was laid out; empty when nothing."""


def lay_out(task: LayOutTask) -> LaidOut:
    """As many of the waiting copies as one sheet holds, the most urgent first, and where they lie."""
    shapes = shapes_of(task)
    items = items_of(task, shapes)
    film = cheapest_film(items, printer=task.printer, rules=task.rules)
    filled = _filled(items, film.printer, task)
    placements = tuple(picture_placed(shapes[one.job, one.part], one) for one in filled.placements)
    return LaidOut(placements, film.printer.film_width, filled.length_mm, film.why, filled.note)


def _filled(items: Sequence[Item], printer: Printer, task: LayOutTask) -> Filled:
    """The filled sheet; kept, so that the same copies lie on the same places if a crash makes us lay them out again."""
    path = task.cache / f"layout-{sheet_key(items, printer=printer, rules=task.rules, seed=task.seed)}.json"
    if not path.is_file():
        filled = fill_sheet(items, printer=printer, rules=task.rules, seed=task.seed, clock=monotonic)
        values = [[one.job, one.copy, *placement_values(one).values()] for one in filled.placements]
        durable.write(path, json.dumps([values, filled.length_mm, filled.note]).encode())
        return filled
    durable.used(path)
    values, length_mm, note = json.loads(path.read_text("utf-8"))
    placements = tuple(Placement(*value[:-1]) for value in values)
    placed = set(copies_on(placements))
    return Filled(placements, length_mm, tuple(item for item in items if (item.job, item.copy) not in placed), note)


def shapes_of(task: LayOutTask) -> Shapes:
    """What is nested for each design, or each of its pieces."""
    widest = on_film(task.printer, max(task.rules.films, default=task.printer.film_width))
    room = label_room(widest, task.rules)
    return {
        (job, part): _shape(outline, task.rules, room)
        for job, _, folder in task.waiting
        for part, outline in _outlines(folder, mirror=task.printer.mirror)
    }


@lru_cache(maxsize=1024)
def _shape(outline: Outline, rules: GangRules, room: Room) -> Shape:
    """A design's outline, with room for its label where labels are printed and the widest film has room for both."""
    if not rules.labels:
        return Shape.plain(outline)
    return labelled(outline, gap_mm=rules.gap, nest=rules.nest, slanting=rules.is_slanting, room=room)


def items_of(task: LayOutTask, shapes: Shapes) -> list[Item]:
    """The waiting copies; the pieces of one stand together."""
    pieces: dict[str, list[tuple[int, Outline]]] = {}
    for (job, part), shape in shapes.items():
        pieces.setdefault(job, []).append((part, shape.outline))
    return [Item(job, copy, outline, part) for job, copies, _ in task.waiting for copy in copies for part, outline in pieces[job]]


def _outlines(folder: Path, *, mirror: bool) -> list[tuple[int, Outline]]:
    """The outlines of a prepared design as they lie on the film: of the whole, or of its pieces from 1 on."""
    if not part_of(folder, 1).is_dir():
        return [(0, _outline(folder, (folder / OUTLINE).stat().st_mtime_ns, mirror=mirror))]
    found: list[tuple[int, Outline]] = []
    for part in count(1):
        path = part_of(folder, part)
        if not path.is_dir():
            return found
        found.append((part, _outline(path, (path / OUTLINE).stat().st_mtime_ns, mirror=mirror)))
    raise AssertionError  # parts end


@lru_cache(maxsize=1024)
def _outline(folder: Path, _written_ns: int, *, mirror: bool) -> Outline:
    """The outline in a folder; read anew once it was written anew."""
    outline = outline_in(folder)
    return outline.mirrored() if mirror else outline
