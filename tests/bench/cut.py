"""Figures for cut paths: seconds and peak memory, of one large design and of a night of many.

    python tests/bench/cut.py [--designs 300] [--copies 2000]

Draws separations of film with specks and holes: one of 8,000 × 10,800 pixels at 720 ppi, then many of 100 mm at 300 ppi, and
writes the cut files of a sheet of each, in a process of its own. Nothing here is asserted: it is for comparing before and after,
on one machine.
"""

import argparse
import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import cv2
import numpy as np

from filmhand import units
from filmhand.cut.write import cut_files
from filmhand.gang.sheet import Placement, Sheet
from filmhand.gang_rules import CutRules
from filmhand.rules import Printer
from filmhand.separation.model import Separation

FILM_MM, PITCH_MM = 600.0, 110.0
WIDTH_PX, HEIGHT_PX = 8000, 10_800


def main() -> None:
    """Draw, then write each sheet's files in a process of its own."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--designs", type=int, default=300)
    parser.add_argument("--copies", type=int, default=2000)
    parser.add_argument("--one", type=Path, help=argparse.SUPPRESS)
    args = parser.parse_args()
    if args.one:
        print(json.dumps(run(args.one, args.copies)))
        return
    with tempfile.TemporaryDirectory() as scratch:
        large, many = Path(scratch, "large"), Path(scratch, "many")
        draw(large, 1, size_px=(WIDTH_PX, HEIGHT_PX), ppi=720)
        draw(many, args.designs, size_px=(1181, 1181), ppi=300)
        for name, folder, copies in (("compiling", large, 1), ("one large", large, 1), ("a night", many, args.copies)):
            command = [sys.executable, __file__, "--copies", str(copies), "--one", str(folder)]
            done = subprocess.run(command, check=True, capture_output=True, text=True)
            print(name.ljust(10), "  ".join(f"{what} {value:,.1f}" for what, value in json.loads(done.stdout).items()))


def draw(folder: Path, count: int, *, size_px: tuple[int, int], ppi: float) -> None:
    """Blobs with holes, and specks around them."""
    width, height = size_px
    for number in range(count):
        rng = np.random.default_rng(number)
        coarse = cv2.GaussianBlur(rng.random((height // 8, width // 8), np.float32), (0, 0), width / 60)
        fine = cv2.resize(coarse, size_px, interpolation=cv2.INTER_LINEAR)
        coverage = np.where(fine > np.median(coarse), 255, 0).astype(np.uint8)
        coverage[: height // 8] = 0
        specks = width * height // 200_000
        coverage[rng.integers(0, height, specks), rng.integers(0, width, specks)] = 255
        where = folder / f"{number:04}"
        where.mkdir(parents=True)
        planes = np.zeros((1, *coverage.shape), np.uint8)
        Separation(("W",), planes, coverage, units.px_to_mm(width, ppi), units.px_to_mm(height, ppi)).save(where)


def run(folder: Path, copies: int) -> dict[str, float]:
    """The files of one sheet."""
    designs = sorted(each for each in folder.iterdir() if each.is_dir())
    facts = json.loads((designs[0] / "separation.json").read_text("utf-8"))
    size = facts["width_mm"], facts["height_mm"]
    pitch = max(PITCH_MM, size[0] + 10)
    across = int(FILM_MM / pitch)
    down = max(PITCH_MM, size[1] + 10)
    places = tuple(
        Placement(designs[k % len(designs)].name, k, k % across * pitch + 5, k // across * down + 5, *size, 0.0)
        for k in range(copies)
    )
    sheet = Sheet("bench", FILM_MM, (copies // across + 1) * down, places)
    start, begun = time.perf_counter(), time.process_time()
    out = folder.with_name(f"{folder.name}-out")
    out.mkdir(exist_ok=True)
    names = cut_files(
        out,
        sheet,
        {(each.name, 0): each for each in designs},
        printer=Printer(name="bench", film_width=f"{FILM_MM} mm"),
        rules=CutRules(files=("svg", "pdf", "dxf")),
    )
    return {
        "seconds": time.perf_counter() - start,
        "CPU seconds": time.process_time() - begun,
        "peak MiB": _peak_mib(),
        **{f"{Path(name).suffix[1:]} KiB": (out / name).stat().st_size / 1024 for name in names},
    }


def _peak_mib() -> float:
    """This process's own high-water mark. ru_maxrss will not do: after fork and exec it still has the parent's (proc(5))."""
    status = Path("/proc/self/status").read_text("ascii")
    return next(int(line.split()[1]) for line in status.splitlines() if line.startswith("VmHWM:")) / 1024


if __name__ == "__main__":
    main()
