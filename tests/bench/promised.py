"""How far the promised colour is from the wanted one, pixel by pixel, on many garments.

    python tests/bench/promised.py [--garments "#1b1b1d" …] [--random 6] [--tolerance 2.5] [--black medium] [--white-tolerance 0]

For each garment 50,000 random sRGB values, and 15,000 about the garment's own, go through the full table to 8-bit planes; the
forward model says what film and garment look like. ΔE00 from the wanted colour: mean, 95th and 99.9th percentile, greatest; and
the percent of pixels further off than the rule's knockout tolerance, of all and of those whose wanted colour full film could show
within ΔE00 0.5. Nominal inks. `--white-tolerance`: the underbase's, which is spent besides. Nothing is asserted.
"""

import argparse

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import lab_from_xyz
from filmhand.colour.nominal import nominal_model
from filmhand.colour.printer_tone import printer_tone
from filmhand.colour.srgb import xyz_of_hex
from filmhand.rules import Rule
from filmhand.separation.table import build_table
from filmhand.separation.underbase import Underbase
from filmhand.separation.wanted import Looks, Setting

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]

GARMENTS = ("#1b1b1d", "#1b2440", "#c4152b", "#d8c8a8", "#3c3c40", "#ffffff", "#808080", "#1f4d2b")
WITHIN_REACH = 0.5
MODEL = nominal_model(tuple("CMYK"))


def main() -> None:
    """One line a garment."""
    arguments = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    arguments.add_argument("--garments", nargs="*", default=list(GARMENTS))
    arguments.add_argument("--random", type=int, default=6)
    arguments.add_argument("--tolerance", type=float, default=2.5)
    arguments.add_argument("--black", default="medium")
    arguments.add_argument("--white-tolerance", type=float, default=0.0)
    chosen = arguments.parse_args()
    rng = np.random.default_rng(7)
    rgb = rng.integers(0, 256, (50000, 3)).astype(np.uint8)
    print("garment        all: mean  p95 p99.9   max  > tol. %  in reach %    near: mean  p95 p99.9   max  > tol. %  in reach %")
    for garment in [*chosen.garments, *(f"#{value:06x}" for value in rng.integers(0, 1 << 24, chosen.random))]:
        rule = Rule.model_validate(
            {
                "title": "bench",
                "garment": garment,
                "colour": {"black": chosen.black},
                "knockout": {"strength": 1, "tolerance": chosen.tolerance},
                "underbase": {"tolerance": chosen.white_tolerance},
            }
        )
        own = np.frombuffer(bytes.fromhex(garment[1:]), np.uint8)
        near = np.clip(np.rint(own + rng.normal(0, 14, (15000, 3))), 0, 255).astype(np.uint8)
        print(f"{garment}     {'        '.join(judged(some, rule) for some in (rgb, near))}", flush=True)


def judged(rgb: Bytes, rule: Rule) -> str:
    """The figures for some values (m, 3)."""
    ground = xyz_of_hex(rule.garment)
    underbase = Underbase.of(rule.underbase, opacity=MODEL.opacity, garment=ground, second_white=False)
    table = build_table(None, model=MODEL, garment=rule.garment, rule=rule)
    tones, coverage, white = table.apply(np.append(rgb, np.full((len(rgb), 1), 255, np.uint8), axis=1)[None])
    film = MODEL.xyz(printer_tone(MODEL).amounts(tones[:, 0].T / 255, inks=MODEL.inks))
    seen = underbase.seen(film, coverage[0] / 255, white[0] / 255, n=MODEL.yule_nielsen)
    wanted = Looks(Setting(None, MODEL, underbase.garment_seen, rule)).of(rgb).wanted
    best = MODEL.xyz(MODEL.exact_inks_for(wanted, rule.colour))
    off, can = miss(seen, wanted), miss(best, wanted) <= WITHIN_REACH
    beyond = off > rule.knockout.tolerance
    middle = " ".join(f"{np.percentile(off, at):5.2f}" for at in (95, 99.9))
    return f"{off.mean():10.2f} {middle} {off.max():5.2f} {100 * beyond.mean():9.3f} {100 * beyond[can].mean():11.3f}"


def miss(first: Floats, second: Floats) -> Floats:
    """ΔE00 (m,) between XYZ (m, 3)."""
    return difference(lab_from_xyz(first), lab_from_xyz(second))


if __name__ == "__main__":
    main()
