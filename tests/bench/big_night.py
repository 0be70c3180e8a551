"""A big night: 2,000 copies of 300 designs laid out and closed, sheet after sheet; time, memory, metres and density.

    python tests/bench/big_night.py [--copies 2000] [--designs 300] [--seconds 20] [--seed 1] [--nest outline]

Designs are drawn by numbers: lobed blobs, rings and clusters of lettering-like shapes, 60 to 320 mm along their longer side,
small ones the more (even in the logarithm). They are traced as when artwork is prepared; that is not counted. Then all wait
for film of 600 mm: a sheet is filled, its placements are checked and sealed in a journal on the disk, until nothing is left.
Density: film within the outlines of cells over the printable film. Memory: the high-water mark of this process (proc(5), VmHWM)
before and after. Wanted on two cores, asserted nowhere here: all under 300 s.
"""

import argparse
import tempfile
import time
from collections.abc import Sequence
from concurrent.futures import ProcessPoolExecutor
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

from filmhand.gang.clearance import Area, clearance_faults
from filmhand.gang.fill import Filled, fill_sheet
from filmhand.gang.nest import Item
from filmhand.gang.outline import Outline, outline_of
from filmhand.intake.listing import Fingerprint
from filmhand.intake.ticket import Ticket
from filmhand.journal import jobs, sheets
from filmhand.journal.journal import Journal
from filmhand.journal.records import Job, JobId, Source
from filmhand.journal.states import JobStage, SheetStage
from filmhand.printer import Printer
from filmhand.rules import GangRules

NOW = datetime(2031, 5, 4, 22, 0, tzinfo=UTC)
FOLDER = "dark"
PRINTER = Printer(name="bench", film_width="600 mm", margin="10 mm")
LONGER_MM = 60.0, 320.0
SIDE_PX = 600

Tones = NDArray[np.uint8]


def blank() -> Tones:
    """A picture without film."""
    return np.zeros((SIDE_PX, SIDE_PX), np.uint8)


def blob(rng: np.random.Generator) -> Tones:
    """A lobed shape."""
    angle = np.linspace(0, 2 * np.pi, 180, endpoint=False)
    radius = 1 + sum(rng.normal(0, 0.45 / k) * np.cos(k * angle + rng.uniform(0, 6.3)) for k in range(2, 7))
    radius = np.clip(radius, 0.2, None) * 0.48 * SIDE_PX / np.max(radius)
    points = SIDE_PX / 2 + np.stack([radius * np.cos(angle), radius * rng.uniform(0.5, 1) * np.sin(angle)], axis=1)
    return np.asarray(cv2.fillPoly(blank(), [points.round().astype(np.int32)], 255))


def ring(rng: np.random.Generator) -> Tones:
    """An oval ring, here and there with a small shape in it."""
    thick = int(rng.uniform(0.04, 0.15) * SIDE_PX)
    middle, across = (SIDE_PX // 2, SIDE_PX // 2), SIDE_PX // 2 - thick
    plane = cv2.ellipse(blank(), middle, (across, int(across * rng.uniform(0.6, 1))), 0, 0, 360, 255, thick)
    return np.asarray(cv2.circle(plane, middle, across // 3, 255, -1)) if rng.random() < 0.3 else np.asarray(plane)


def lettering(rng: np.random.Generator) -> Tones:
    """One to three rows of separate strokes and bows."""
    plane, columns = blank(), int(rng.integers(3, 8))
    step = SIDE_PX // columns
    size, thick = int(0.7 * step), int(rng.uniform(0.12, 0.22) * step)
    for row in range(int(rng.integers(1, 1 + max(1, columns // 2)))):
        for column in range(columns):
            corner = np.array([column * step, int(1.3 * row * step)]) + thick
            for ends in rng.integers(0, 2, (int(rng.integers(2, 4)), 2, 2)) * size:
                first, second = (tuple(map(int, corner + end)) for end in ends)
                cv2.line(plane, first, second, 255, thick)
            middle, turn = tuple(map(int, corner + size // 2)), int(rng.integers(90, 360))
            cv2.ellipse(plane, middle, (size // 2, size // 2), 0, 0, turn, 255, thick)
    return plane


def design(number: int, *, seed: int) -> Outline:
    """The outline of a design, drawn and cut to its film."""
    rng = np.random.default_rng([seed, number])
    plane = (blob, ring, lettering)[number % 3](rng)
    rows, columns = np.flatnonzero(plane.any(axis=1)), np.flatnonzero(plane.any(axis=0))
    plane = plane[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    longer = float(np.exp(rng.uniform(*np.log(LONGER_MM))))
    height, width = (side * longer / max(plane.shape) for side in plane.shape)
    return outline_of(plane, width_mm=width, height_mm=height).mirrored()


def ordered(copies: int, designs: int, *, seed: int) -> list[int]:
    """How many copies of each design: at least one, some of many."""
    weights = np.random.default_rng(seed).lognormal(sigma=0.8, size=designs)
    return [int(n) for n in 1 + np.random.default_rng([seed, 1]).multinomial(copies - designs, weights / weights.sum())]


def waiting(journal: Journal, outlines: Sequence[Outline], copies: Sequence[int]) -> list[Item]:
    """Jobs in the journal that wait for a sheet, and their copies as the service hands them to be laid."""
    for number, many in enumerate(copies):
        job = Job(
            id=JobId(str(number)),
            seq=0,
            folder=FOLDER,
            name=f"{number}.png",
            digest="d" * 64,
            size_bytes=10,
            stage=JobStage.CLAIMED,
            attempt=0,
            approved=False,
            copies=many,
            ticket=Ticket(copies=many),
            arrived=NOW,
            since=NOW,
        )
        source = Source(job.id, "artwork", job.name, Fingerprint(1, number, 10, 5), job.digest)
        jobs.claim(journal, jobs.New(job, (source,)))
        jobs.prepared(journal, job.id, {}, findings=(), at=NOW)
    return [Item(str(n), copy, outlines[n]) for n, many in enumerate(copies) for copy in range(1, many + 1)]


def close(journal: Journal, filled: Filled, outlines: Sequence[Outline], *, rules: GangRules) -> None:
    """Check a sheet and seal it."""
    shapes = [outlines[int(one.job)] for one in filled.placements]
    area = Area.of_film(PRINTER, filled.length_mm)
    for fault in clearance_faults(filled.placements, shapes, gap_mm=rules.gap, area=area):
        print(f"  FAULT: {fault}")
    (sheet,) = sheets.by_stage(journal, SheetStage.OPEN)
    sheets.seal(journal, sheet, filled.placements, film=sheets.Film(PRINTER.film_width, filled.length_mm), rule="", at=NOW)


def film_mm2(outline: Outline) -> float:
    """Area of the cells that hold film."""
    return float(outline.cells.mask().mean()) * outline.width_mm * outline.height_mm


def run(journal: Journal, outlines: Sequence[Outline], copies: Sequence[int], rules: GangRules) -> None:
    """A line a sheet, and the sums."""
    areas = [film_mm2(outline) for outline in outlines]
    left, lengths, began = waiting(journal, outlines, copies), list[float](), time.perf_counter()
    processor = time.process_time()
    print("sheet  copies  length  density  seconds", flush=True)
    while left:
        since = time.perf_counter()
        filled = fill_sheet(left, printer=PRINTER, rules=rules, seed=len(lengths) + 1, clock=time.monotonic)
        close(journal, filled, outlines, rules=rules)
        left = list(filled.left)
        lengths.append(filled.length_mm)
        density = sum(areas[int(one.job)] for one in filled.placements) / (PRINTER.printable_width * filled.length_mm)
        used, note = time.perf_counter() - since, f"  {filled.note}" if filled.note else ""
        print(
            f"{len(lengths):5} {len(filled.placements):7} {filled.length_mm:5.0f} mm {density:7.1%} {used:8.1f}{note}", flush=True
        )
    seconds, balance = time.perf_counter() - began, sheets.balance(journal)
    printed = sum(area * many for area, many in zip(areas, copies, strict=True))
    print(f"{sum(copies)} copies of {len(copies)} designs on {len(lengths)} sheets, {sum(lengths) / 1000:.2f} m of film")
    print(f"film printed: {printed / sum(lengths) / PRINTER.printable_width:.1%} of what is printable")
    processor = time.process_time() - processor
    print(
        f"laid out and closed in {seconds:.1f} s ({'under' if seconds < 300 else 'OVER'} 300 s), {processor:.0f} s of processor"
    )
    print(
        f"journal: {balance.on_sheets} of {balance.ordered} copies on sheets, {'nothing' if balance.holds else 'SOMETHING'} lost"
    )


def peak_mib() -> float:
    """This process's high-water mark of resident memory."""
    status = Path("/proc/self/status").read_text("ascii")
    return next(int(line.split()[1]) for line in status.splitlines() if line.startswith("VmHWM:")) / 1024


def main() -> None:
    """Draw, then lay out and close."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--copies", type=int, default=2000)
    parser.add_argument("--designs", type=int, default=300)
    parser.add_argument("--seconds", type=float, default=20.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--nest", choices=["outline", "box"], default="outline")
    chosen = parser.parse_args()
    with ProcessPoolExecutor() as pool:
        outlines = list(pool.map(partial(design, seed=chosen.seed), range(chosen.designs), chunksize=4))
    before = peak_mib()
    rules = GangRules(nest=chosen.nest, seconds=chosen.seconds)
    with tempfile.TemporaryDirectory() as folder, Journal.open(Path(folder) / "journal.sqlite") as journal:
        run(journal, outlines, ordered(chosen.copies, chosen.designs, seed=chosen.seed), rules)
    print(f"peak resident memory {peak_mib():.0f} MiB, {before:.0f} MiB before laying out")


if __name__ == "__main__":
    main()
