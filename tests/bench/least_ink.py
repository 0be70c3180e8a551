"""What least ink saves against light black on photographs, how far colour goes off, and whether contours show.

    python tests/bench/least_ink.py [--set FOGRA39L] [--limit 330] [--tolerances 0 0.5 1 …]

The press is the model fitted to a published set (tests/colour/published_sets.py); the pictures are scikit-image's, 20000 pixels
of each, and those of them that can be printed (within ΔE00 1). For each picture the largest tolerance is taken that keeps the
mean. Ink: the mean of C + M + Y + K, in percent of one full ink. ΔE00: from what the rule promises (gamut mapped, no table yet)
to what the 8-bit planes print. Contours, the same measure for both: along ramps of 256 source values, the printed minus the
promised CIELAB, less its own mean over 17 values about; its root mean square, and the 99th percentile. Bends: how far an ink at a
node lies off the line between its neighbours, at most. Nothing here is asserted.
"""

import argparse
import sys
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from skimage import data

from filmhand.colour.black_point import compensated
from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import lab_from_xyz
from filmhand.colour.inverse.settle import Nodes, bends
from filmhand.colour.model import InkModel, darkest_gray
from filmhand.colour.printer_tone import printer_tone
from filmhand.colour.srgb import xyz_from_srgb, xyz_of_hex
from filmhand.rules import Rule
from filmhand.separation.table import SeparationTable, build_table
from filmhand.separation.wanted import Looks, Setting

sys.path.insert(0, str(Path(__file__).parents[1]))
from colour.published_sets import SETS, fitted_press

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]

PICTURES = ("astronaut", "coffee", "chelsea", "rocket", "motorcycle", "hubble_deep_field", "retina")
SAMPLE = 20000
TOLERANCES = [step / 5 for step in range(26)]


def picture(name: str) -> Bytes:
    """Some of its pixels (m, 3)."""
    if name == "motorcycle":
        pixels = np.asarray(data.stereo_motorcycle()[0]).reshape(-1, 3)
    else:
        pixels = np.asarray(getattr(data, name)())[..., :3].reshape(-1, 3)
    return pixels[np.random.default_rng(2).permutation(len(pixels))[:SAMPLE]]


def wanted(rgb: Bytes, model: InkModel, rule: Rule) -> Floats:
    """XYZ (m, 3) of source values with their black brought to the print's."""
    return compensated(xyz_from_srgb(rgb), black=np.zeros(3), to=darkest_gray(model, rule.colour))


def ramps() -> Bytes:
    """Grays, hues, and ways between colours: (w, 256, 3)."""
    rng = np.random.default_rng(1)
    ends = [([0, 0, 0], [255, 255, 255]), *pairwise(rng.integers(0, 256, (200, 3)).tolist())]
    share = np.linspace(0, 1, 256)[:, None]
    return np.rint([np.array(a) + share * (np.array(b) - np.array(a)) for a, b in ends]).astype(np.uint8)


def separated(table: SeparationTable, rgb: Bytes, model: InkModel) -> Floats:
    """Ink amounts (m, k), 0 to 1, from 8-bit planes."""
    pixels = np.concatenate([rgb, np.full((len(rgb), 1), 255, np.uint8)], axis=1)[None]
    return printer_tone(model).amounts(table.apply(pixels)[0][:, 0].T / 255, inks=table.inks)


def contours(table: SeparationTable, promised: Floats, lines: Bytes, model: InkModel) -> tuple[float, float]:
    """Root mean square and 99th percentile of the measure above; `promised` (w, 256, 3) CIELAB."""
    printed = lab_from_xyz(model.xyz(separated(table, lines.reshape(-1, 3), model))).reshape(promised.shape)
    off = printed - promised
    window = np.ones(17) / 17
    smooth = np.apply_along_axis(np.convolve, 1, off, window, "valid")
    rest = np.linalg.norm(off[:, 8:-8] - smooth, axis=-1)
    return float(np.sqrt((rest**2).mean())), float(np.percentile(rest, 99))


def main() -> None:
    """Print the figures."""
    arguments = argparse.ArgumentParser()
    arguments.add_argument("--set", default="FOGRA39L", choices=SETS)
    arguments.add_argument("--limit", type=float, default=330)
    arguments.add_argument("--tolerances", type=float, nargs="+", default=TOLERANCES)
    chosen = arguments.parse_args()
    model = fitted_press(chosen.set)
    sample = {name: picture(name) for name in PICTURES}
    light = judged(model, {"ink_limit": chosen.limit, "black": "light"}, sample)
    print(f"light black: contours rms {light.rms:.3f}, p99 {light.p99:.3f}; bends max {light.bend:.3f}")
    least = {
        tolerance: judged(model, {"ink_limit": chosen.limit, "black": "least-ink", "tolerance": tolerance}, sample)
        for tolerance in chosen.tolerances
    }
    for tolerance, one in least.items():
        print(f"least ink, tolerance {tolerance}: contours rms {one.rms:.3f}, p99 {one.p99:.3f}; bends max {one.bend:.3f}")
    for most in (0.5, 1.0):
        print(f"Saved at a mean ΔE00 of {most} at most (tolerance; mean, p95; share of the picture that can be printed)")
        for label, (ink, _, _, share) in light.pictures.items():
            tolerance, one = max((pair for pair in least.items() if pair[1].pictures[label][1] <= most), key=lambda pair: pair[0])
            spent, mean, p95, _ = one.pictures[label]
            saved = 100 * (1 - spent / ink)
            facts = f"{tolerance}; {mean:.2f}, {p95:.2f}; {share:.0%}"
            print(f"  {label:28} {ink:6.1f} -> {spent:6.1f} %, saved {saved:5.1f} %  ({facts})")


@dataclass(frozen=True)
class Judged:
    """Contours, the largest bend, and for each picture its ink, %, ΔE00 mean and 95th percentile, and the share judged."""

    rms: float
    p99: float
    bend: float
    pictures: dict[str, tuple[float, float, float, float]]


def judged(model: InkModel, colour: dict[str, object], sample: dict[str, Bytes]) -> Judged:
    """One rule's figures."""
    rule = Rule.model_validate({"title": "bench", "knockout": {"strength": 0}, "colour": colour})
    table = build_table(None, model=model, garment="#ffffff", rule=rule)
    looks = Looks(Setting(None, model, xyz_of_hex("#ffffff"), rule))
    lines = ramps()
    promised = lab_from_xyz(looks.of(lines.reshape(-1, 3)).full).reshape(lines.shape)
    values = table.values[..., 1:].astype(np.float64)
    pictures = {}
    for name, pixels in sample.items():
        full = looks.of(pixels).full
        can = difference(lab_from_xyz(full), lab_from_xyz(wanted(pixels, model, rule))) <= 1
        for label, which in ((name, np.ones(len(pixels), bool)), (f"{name}, printable", can)):
            inks = separated(table, pixels[which], model)
            off = difference(lab_from_xyz(model.xyz(inks)), lab_from_xyz(full[which]))
            ink = 100 * inks.sum(axis=1).mean()
            pictures[label] = float(ink), float(off.mean()), float(np.percentile(off, 95)), float(which.mean())
    rms, p99 = contours(table, promised, lines, model)
    return Judged(rms, p99, float(bends(values, Nodes(table.axes, np.ones(values.shape[:3], bool))).max()), pictures)


if __name__ == "__main__":
    main()
