"""Rectangles cut from a known strip: length by outlines and by boxes over the best there is.

    python tests/bench/guillotine.py [--pieces 16 25 50 100 200] [--seeds 1 2 3] [--gaps 0 6] [--cuts even wild] [--seconds 20]

A rectangle as wide as the film is cut again and again straight through, so that its pieces fill it without waste: even cuts
halve one of the largest pieces about the middle, wild ones any piece, the likelier the larger, anywhere. With a gap g
each piece is made smaller by g both ways and the film narrower by g: pieces with half a gap around them fill the rectangle
again, so no layout is shorter than the rectangle's length less g. Pieces may be turned by quarters. Wanted (asserted nowhere
here): outlines at most 1.07 × the best, boxes at most 1.12.
"""

import argparse
import random
import time
from dataclasses import dataclass
from itertools import product

from filmhand.gang.clearance import Area, clearance_faults
from filmhand.gang.nest import Item, Layout, nest
from filmhand.gang.outline import Outline
from filmhand.rules import GangRules, Nest

WIDTH_MM = 580.0
NARROWEST_MM = 12.0
"""No piece is narrower than this, its gap included."""
BARS = {Nest.OUTLINE: 1.07, Nest.BOX: 1.12}


@dataclass(frozen=True)
class Cut:
    """Pieces of a known strip, a gap already taken off each. `best_mm`: the shortest strip that takes them all."""

    items: tuple[Item, ...]
    width_mm: float
    best_mm: float
    gap_mm: float


def cut(pieces: int, *, gap_mm: float, seed: int, wild: bool) -> Cut:
    """A strip of one to four times its width, cut at random."""
    rng = random.Random(seed)
    length = WIDTH_MM * rng.uniform(1, 4)
    parts = [(WIDTH_MM, length)]
    while len(parts) < pieces:
        parts.sort(key=lambda size: -size[0] * size[1])
        chosen = rng.choices(range(len(parts)), [w * h for w, h in parts])[0] if wild else rng.randrange(min(len(parts), 4))
        parts += _halves(parts.pop(chosen), rng, wild=wild)
    rng.shuffle(parts)
    items = (Item(str(n), 1, Outline.box(w - gap_mm, h - gap_mm)) for n, (w, h) in enumerate(parts))
    return Cut(tuple(items), WIDTH_MM - gap_mm, length - gap_mm, gap_mm)


def _halves(size: tuple[float, float], rng: random.Random, *, wild: bool) -> list[tuple[float, float]]:
    """A piece cut across its longer side; wild ones across either. Uncut where a part would be too narrow."""
    width, height = size
    across = rng.random() < width / (width + height) if wild else width > height
    side = width if across else height
    share = rng.uniform(0.05, 0.95) if wild else rng.uniform(0.25, 0.75)
    if min(share, 1 - share) * side < NARROWEST_MM:
        return [size]
    return [(part * width, height) if across else (width, part * height) for part in (share, 1 - share)]


def laid(of: Cut, nesting: Nest, *, seconds: float) -> Layout:
    """The pieces by filmhand's `nest`."""
    rules = GangRules(nest=nesting, gap=f"{of.gap_mm} mm", seconds=seconds, max_length="100000 mm")
    return nest(of.items, width_mm=of.width_mm, rules=rules, seed=1)


def run(of: Cut, *, seconds: float) -> str:
    """Length over the best and seconds, by outlines and by boxes, and what is wrong."""
    words = []
    for nesting, bar in BARS.items():
        began = time.perf_counter()
        layout = laid(of, nesting, seconds=seconds)
        used, ratio = time.perf_counter() - began, layout.length_mm / of.best_mm
        area = Area(0.0, 0.0, of.width_mm, layout.length_mm)
        found = clearance_faults(layout.placements, [item.outline for item in of.items], gap_mm=of.gap_mm, area=area)
        words.append(f"{ratio:8.3f} {used:6.1f} s {'; '.join(found) or ('over' if ratio > bar else 'ok'):5}")
    return " ".join(words)


def main() -> None:
    """A line a strip."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--pieces", type=int, nargs="+", default=[16, 25, 50, 100, 200])
    parser.add_argument("--seeds", type=int, nargs="+", default=[1, 2, 3])
    parser.add_argument("--gaps", type=float, nargs="+", default=[0.0, 6.0], metavar="MM")
    parser.add_argument("--cuts", nargs="+", default=["even", "wild"], choices=["even", "wild"])
    parser.add_argument("--seconds", type=float, default=20.0)
    chosen = parser.parse_args()
    print("cuts  pieces  gap  seed    best     outlines            boxes")
    for cuts, pieces, gap, seed in product(chosen.cuts, chosen.pieces, chosen.gaps, chosen.seeds):
        one = cut(pieces, gap_mm=gap, seed=seed, wild=cuts == "wild")
        start = f"{cuts} {pieces:7} {gap:4g} {seed:5} {one.best_mm:5.0f} mm"
        print(start, run(one, seconds=chosen.seconds), flush=True)


if __name__ == "__main__":
    main()
