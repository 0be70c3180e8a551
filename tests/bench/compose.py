"""Figures for composing: seconds, gigadots a second and peak memory, by sheet length and compression.

    python tests/bench/compose.py [--lengths 1 5] [--compressions lzw deflate packbits none] [--threads 0] [--designs 10]

Draws designs of 280 × 350 mm at 300 ppi with five inks (photograph-like with a soft edge, flat shapes, a smooth gradient), lays
them two abreast on film 600 mm wide, and composes at 720 × 720, one bit, each run in a process of its own. Gigadots are the
sheet's, every ink counted, bare film too. Nothing here is asserted: it is for comparing before and after, on one machine.
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
from numpy.typing import NDArray

from filmhand.colour.nominal import nominal_model
from filmhand.delivery.readback import read_back
from filmhand.gang.compose import Piece, Target, compose
from filmhand.gang.sheet import Placement, Sheet
from filmhand.halftone.screening import screening_for
from filmhand.rules import Compression, OutputRules, Printer, Rule
from filmhand.separation.model import Separation

WIDTH_MM, HEIGHT_MM, FILM_MM, MARGIN_MM, GAP_MM = 280.0, 350.0, 600.0, 10.0, 6.0
WIDTH_PX, HEIGHT_PX = 3307, 4134  # 300 ppi
INKS = ("C", "M", "Y", "K", "W")

Tones = NDArray[np.uint8]


def _peak_mib() -> float:
    """This process's own high-water mark. ru_maxrss will not do: after fork and exec it still has the parent's (proc(5))."""
    status = Path("/proc/self/status").read_text("ascii")
    return next(int(line.split()[1]) for line in status.splitlines() if line.startswith("VmHWM:")) / 1024


def main() -> None:
    """Draw, then run each case in a process of its own."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--lengths", type=float, nargs="+", default=[1.0, 5.0], metavar="METRES")
    parser.add_argument("--compressions", nargs="+", default=[str(each) for each in Compression], metavar="NAME")
    parser.add_argument("--threads", type=int, default=0)
    parser.add_argument("--designs", type=int, default=10)
    parser.add_argument("--cache", type=Path, default=None, help="keep the drawn designs here")
    parser.add_argument("--one", help=argparse.SUPPRESS)
    args = parser.parse_args()
    if args.one:
        print(json.dumps(run(args.cache, args.lengths[0], Compression(args.one), threads=args.threads or None)))
        return
    with tempfile.TemporaryDirectory() as scratch:
        cache = args.cache or Path(scratch)
        draw_designs(cache, args.designs)
        common = [sys.executable, __file__, "--cache", str(cache), "--threads", str(args.threads)]
        subprocess.run([*common, "--lengths", "0.4", "--one", "lzw"], check=True, capture_output=True)  # compile first
        print("compression  length    dots  seconds  Gdots/s  CPU s  read back  peak MiB  written")
        for name in args.compressions:
            for length in args.lengths:
                done = subprocess.run(
                    [*common, "--lengths", str(length), "--one", name], check=True, capture_output=True, text=True
                )
                got = json.loads(done.stdout)
                print(
                    f"{name:11} {length:5.1f} m {got['gigadots']:6.2f}G {got['seconds']:8.2f} {got['rate']:8.2f}"
                    f" {got['cpu']:6.2f} {got['read_back']:8.2f} s {got['peak_mib']:9.0f} {got['written_mib']:5.0f} MiB"
                )


def run(cache: Path, metres: float, compression: Compression, *, threads: int | None) -> dict[str, float]:
    """Compose one sheet in this process."""
    printer = Printer(name="bench", film_width=f"{FILM_MM} mm")
    screening = screening_for(Rule(title="bench"), printer=printer, cache=cache)
    designs = sorted(cache.glob("design*"))
    sheet = layout(metres * 1000, len(designs))
    pieces = {str(k): Piece(folder, screening, "#1b1b1d") for k, folder in enumerate(designs)}
    target = Target(printer, OutputRules(compression=compression), nominal_model(INKS[:-1]), "#1b1b1d")
    with tempfile.TemporaryDirectory(dir=cache) as scratch:
        folder = Path(scratch)
        began, cpu = time.perf_counter(), time.process_time()
        composed = compose(sheet, pieces, target=target, folder=folder, threads=threads)
        seconds, cpu = time.perf_counter() - began, time.process_time() - cpu
        peak = _peak_mib()
        began = time.perf_counter()
        read_back(folder, composed)
        again = time.perf_counter() - began
        written = sum(path.stat().st_size for path in folder.iterdir()) / 2**20
    gigadots = composed.width_dots * composed.length_dots * len(composed.inks) / 1e9
    return {
        "gigadots": gigadots,
        "seconds": seconds,
        "rate": gigadots / seconds,
        "cpu": cpu,
        "read_back": again,
        "peak_mib": peak,
        "written_mib": written,
    }


def layout(length_mm: float, designs: int) -> Sheet:
    """Copies two abreast, down the sheet, each third one upside down."""
    placements = []
    y, copy = MARGIN_MM, 0
    while y + HEIGHT_MM + MARGIN_MM <= length_mm:
        for x in (MARGIN_MM, MARGIN_MM + WIDTH_MM + GAP_MM):
            placements.append(Placement(str(copy % designs), copy, x, y, WIDTH_MM, HEIGHT_MM, 180.0 if copy % 3 == 2 else 0.0))
            copy += 1
        y += HEIGHT_MM + GAP_MM
    return Sheet("bench", FILM_MM, length_mm, tuple(placements))


def draw_designs(cache: Path, designs: int) -> None:
    """Separations of three kinds in turn, unless they are there."""
    for k in range(designs):
        folder = cache / f"design{k:02d}"
        if folder.is_dir():
            continue
        folder.mkdir(parents=True)
        colours, coverage = (photograph, shapes, gradient)[k % 3](np.random.default_rng(k))
        white = np.where(coverage > 0, 255, 0).astype(np.uint8)
        planes = np.concatenate([colours * (coverage > 0), white[None]])
        Separation(INKS, planes, coverage, WIDTH_MM, HEIGHT_MM).save(folder)


def photograph(rng: np.random.Generator) -> tuple[Tones, Tones]:
    """Smooth noise in octaves, in a shape with a soft edge."""
    colours = np.zeros((4, HEIGHT_PX, WIDTH_PX), np.float32)
    for octave in range(7):
        small = rng.random((3 << octave, 3 << octave, 4), dtype=np.float32)
        for ink in range(4):
            colours[ink] += cv2.resize(small[..., ink], (WIDTH_PX, HEIGHT_PX), interpolation=cv2.INTER_CUBIC) / (1 << octave)
    colours = 255 * (colours - colours.min()) / (colours.max() - colours.min())
    colours[3] *= 0.3
    return colours.astype(np.uint8), oval(softness=0.05)


def shapes(rng: np.random.Generator) -> tuple[Tones, Tones]:
    """Flat discs and lettering."""
    colours = np.zeros((4, HEIGHT_PX, WIDTH_PX), np.uint8)
    coverage = np.zeros((HEIGHT_PX, WIDTH_PX), np.uint8)
    for _ in range(14):
        middle = (int(rng.uniform(0.1, 0.9) * WIDTH_PX), int(rng.uniform(0.1, 0.9) * HEIGHT_PX))
        radius = int(rng.uniform(0.03, 0.2) * WIDTH_PX)
        cv2.circle(coverage, middle, radius, 255, -1, cv2.LINE_AA)
        for ink in range(4):
            cv2.circle(colours[ink], middle, radius, int(rng.integers(0, 255)), -1)
    cv2.putText(coverage, "CREW", (200, 2200), cv2.FONT_HERSHEY_SIMPLEX, 36, 255, 120, cv2.LINE_AA)
    cv2.putText(colours[3], "CREW", (200, 2200), cv2.FONT_HERSHEY_SIMPLEX, 36, 255, 120, cv2.LINE_AA)
    return colours, coverage


def gradient(rng: np.random.Generator) -> tuple[Tones, Tones]:
    """Slow waves in every ink, in an oval with a hard edge."""
    y, x = np.mgrid[0:HEIGHT_PX, 0:WIDTH_PX].astype(np.float32)
    phases = rng.uniform(0, 6, 4)
    waves = [127 + 127 * np.sin(x / (200 + 100 * k) + y / 300 + phase) for k, phase in enumerate(phases)]
    return np.stack(waves).astype(np.uint8), oval(softness=0.002)


def oval(softness: float) -> Tones:
    """Coverage that falls from full to none over a share of the picture's width."""
    y, x = np.mgrid[0:HEIGHT_PX, 0:WIDTH_PX].astype(np.float32)
    distance = np.hypot((x - WIDTH_PX / 2) / (WIDTH_PX / 2), (y - HEIGHT_PX / 2) / (HEIGHT_PX / 2))
    return (255 * np.clip((0.98 - distance) / softness, 0, 1)).astype(np.uint8)


if __name__ == "__main__":
    main()
