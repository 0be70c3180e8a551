"""Nesting on published strip-packing instances: density beside the best published one, seconds, and the checks on each layout.

    FILMHAND_NESTING=FOLDER python tests/bench/nesting.py [NAMES ...] [--seconds 20 180] [--seed 1]

Every instance (JSON, such as those of ESICUP's collection) in the folder, or those named, and two of our own drawing, go through
filmhand's own `nest` with no gap. Density: area of all pieces over strip height × length, in %. Best: recomputed from the record
layouts of Gardeyn, Vanden Berghe and Wauters 2025; for our own what a minute once came to. Checks: filmhand's own on
cells, and shapely's on the pieces themselves. Nothing here is asserted.
"""

import argparse
import os
import sys
import time
from collections.abc import Iterator
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "gang"))

from strip_files import MEASURED, OWN, PUBLISHED, WIDTH_MM, Strip, faults, read_strip

from filmhand.gang.nest import nest, nest_boxes

BEST = {**PUBLISHED, **MEASURED}


def instances(names: list[str]) -> Iterator[Strip]:
    """Those named, or all."""
    folders = [Path(os.environ["FILMHAND_NESTING"])] if "FILMHAND_NESTING" in os.environ else []
    for folder in (*folders, OWN):
        for path in sorted(folder.glob("*.json")):
            if not names or path.stem in names:
                yield read_strip(path)


def run(strip: Strip, *, seconds: float, seed: int) -> str:
    """One line of the table."""
    rules = strip.rules(seconds=seconds)
    boxes = strip.density(nest_boxes(strip.items, width_mm=WIDTH_MM, rules=rules, seed=seed))
    began = time.perf_counter()
    layout = nest(strip.items, width_mm=WIDTH_MM, rules=rules, seed=seed)
    used = time.perf_counter() - began
    density, best = strip.density(layout), BEST.get(strip.name)
    compared = f"{best:7.2f} {density - best:+7.2f}" if best else " " * 15
    said = (*faults(strip, layout), layout.note)
    checks = "; ".join(dict.fromkeys(each for each in said if each)) or "ok"
    return f"{strip.name:12} {len(strip.items):6} {boxes:7.2f} {seconds:6.0f} s {used:7.1f} s {density:8.2f} {compared}  {checks}"


def main() -> None:
    """A line an instance and time."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("names", nargs="*", metavar="NAMES")
    parser.add_argument("--seconds", type=float, nargs="+", default=[20.0, 180.0])
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    if "FILMHAND_NESTING" not in os.environ:
        print("FILMHAND_NESTING names no folder of instances: only our own are laid.")
    print("instance     pieces   boxes  asked     used    density    best  points  checks")
    for strip in instances(chosen.names):
        for seconds in chosen.seconds:
            print(run(strip, seconds=seconds, seed=chosen.seed), flush=True)


if __name__ == "__main__":
    main()
