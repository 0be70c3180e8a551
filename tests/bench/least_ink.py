"""What least ink saves against light black on photographs, how far colour goes off, and whether contours show.

    python tests/bench/least_ink.py [--set /usr/share/color/icc/FOGRA39L.ti3] [--limit 330] [--tolerances 0 1.2 2.7]

The press is a characterisation set (tests/colour/characterised.py); the pictures are scikit-image's, 20000 pixels of each, and
those of them that can be printed (within ΔE00 1), as colours out of gamut leave little choice. Ink: the mean of C + M + Y + K, in
percent of one full ink. ΔE00: from what the rule promises (black point brought to the print's, no table yet) to what the 8-bit
planes print. Contours, the same measure for both: along ramps of 256 source values, the printed minus the promised CIELAB, less
its own mean over 17 values about; its root mean square, and the 99th percentile. Bends: how far an ink at a node lies off the
line between its neighbours (largest, 99th percentile). Nothing here is asserted.
"""

import argparse
import sys
from itertools import pairwise
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from skimage import data

from filmhand.colour.black_point import compensated, neutral
from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import lab_from_xyz
from filmhand.colour.inverse.settle import Nodes, bends
from filmhand.colour.model import InkModel
from filmhand.colour.srgb import xyz_from_srgb, xyz_of_hex
from filmhand.rules import Rule
from filmhand.separation.table import SeparationTable, build_table
from filmhand.separation.wanted import Looks, Setting

sys.path.insert(0, str(Path(__file__).parents[1] / "colour"))
from characterised import FOGRA39, Press

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]

PICTURES = ("astronaut", "coffee", "chelsea", "rocket", "motorcycle", "hubble_deep_field", "retina")
SAMPLE = 20000


def picture(name: str) -> Bytes:
    """Some of its pixels (m, 3)."""
    if name == "motorcycle":
        pixels = np.asarray(data.stereo_motorcycle()[0]).reshape(-1, 3)
    else:
        pixels = np.asarray(getattr(data, name)())[..., :3].reshape(-1, 3)
    return pixels[np.random.default_rng(2).permutation(len(pixels))[:SAMPLE]]


def wanted(rgb: Bytes, model: InkModel, rule: Rule) -> Floats:
    """XYZ (m, 3) of source values with their black brought to the print's."""
    darkest = neutral(model.xyz(model.exact_inks_for(np.zeros(3), rule.colour)))
    return compensated(xyz_from_srgb(rgb), black=np.zeros(3), to=darkest)


def ramps() -> Bytes:
    """Grays, hues, and ways between colours: (w, 256, 3)."""
    rng = np.random.default_rng(1)
    ends = [([0, 0, 0], [255, 255, 255]), *pairwise(rng.integers(0, 256, (200, 3)).tolist())]
    share = np.linspace(0, 1, 256)[:, None]
    return np.rint([np.array(a) + share * (np.array(b) - np.array(a)) for a, b in ends]).astype(np.uint8)


def separated(table: SeparationTable, rgb: Bytes) -> Floats:
    """Inks (m, k), 0 to 1, from 8-bit planes."""
    pixels = np.concatenate([rgb, np.full((len(rgb), 1), 255, np.uint8)], axis=1)[None]
    return np.asarray(table.apply(pixels)[0][:, 0].T / 255)


def contours(table: SeparationTable, promised: Floats, lines: Bytes, model: InkModel) -> tuple[float, float]:
    """Root mean square and 99th percentile of the measure above; `promised` (w, 256, 3) CIELAB."""
    printed = lab_from_xyz(model.xyz(separated(table, lines.reshape(-1, 3)))).reshape(promised.shape)
    off = printed - promised
    window = np.ones(17) / 17
    smooth = np.apply_along_axis(np.convolve, 1, off, window, "valid")
    rest = np.linalg.norm(off[:, 8:-8] - smooth, axis=-1)
    return float(np.sqrt((rest**2).mean())), float(np.percentile(rest, 99))


def main() -> None:
    """Print the figures."""
    arguments = argparse.ArgumentParser()
    arguments.add_argument("--set", type=Path, default=FOGRA39)
    arguments.add_argument("--limit", type=float, default=330)
    arguments.add_argument("--tolerances", type=float, nargs="+", default=[0.0, 1.2, 2.7])
    chosen = arguments.parse_args()
    model = Press(chosen.set)
    rules = [("light", {"black": "light"})]
    rules += [(f"least {t}", {"black": "least-ink", "tolerance": t}) for t in chosen.tolerances]
    sample = {name: picture(name) for name in PICTURES}
    lines = ramps()
    base: dict[str, float] = {}
    for title, colour in rules:
        rule = Rule.model_validate({"title": title, "colour": {"ink_limit": chosen.limit, **colour}})
        table = build_table(None, model=model, garment="#ffffff", rule=rule)
        looks = Looks(Setting(None, model, xyz_of_hex("#ffffff"), rule))
        promised = lab_from_xyz(looks.of(lines.reshape(-1, 3)).full).reshape(lines.shape)
        rms, p99 = contours(table, promised, lines, model)
        values = table.values[..., 1:].astype(np.float64)
        bend = bends(values, Nodes(table.axes, np.ones(values.shape[:3], bool)))
        print(f"{title}: contours rms {rms:.3f}, p99 {p99:.3f}; bends max {bend.max():.3f}, p99 {np.percentile(bend, 99):.3f}")
        for name, pixels in sample.items():
            full = looks.of(pixels).full
            can = difference(lab_from_xyz(full), lab_from_xyz(wanted(pixels, model, rule))) <= 1
            for label, some in ((name, pixels), ("  printable", pixels[can])):
                inks = separated(table, some)
                off = difference(lab_from_xyz(model.xyz(inks)), lab_from_xyz(full if some is pixels else full[can]))
                total = 100 * inks.sum(axis=1).mean()
                saved = 100 * (1 - total / base.setdefault(name + label, total))
                print(
                    f"  {label:18} {100 * len(some) / len(pixels):3.0f} %  ink {total:6.1f} (K {100 * inks[:, 3].mean():4.1f})  "
                    f"saved {saved:5.1f} %  ΔE00 mean {off.mean():.2f}, p95 {np.percentile(off, 95):.2f}"
                )


if __name__ == "__main__":
    main()
