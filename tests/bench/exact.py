"""Figures for colours laid past the separation table: what looking for them costs beside the table's own pass.

    python tests/bench/exact.py [--megapixels 16] [--times 9]

The pictures of tests/bench/lookup.py, and random colours of which they have none. Looking is `met_in`; "laid" is the pass that
would lay them, which is made only where some were met. Processor time, the least of several times. Nothing is asserted.
"""

import argparse

import numpy as np
from lookup import PHOTOGRAPHS, blank, discs, tiled, timed

from filmhand.colour.nominal import nominal_model
from filmhand.rules import Rule
from filmhand.separation.exact import lay, met_in
from filmhand.separation.lookup import separate_pixels
from filmhand.separation.table import build_table


def main() -> None:
    """One line a picture and number of colours."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--megapixels", type=float, default=16)
    parser.add_argument("--times", type=int, default=9)
    args = parser.parse_args()
    side = round(np.sqrt(args.megapixels * 1e6))
    table = build_table(None, model=nominal_model(tuple("CMYK")), garment="#1b1b1d", rule=Rule(title="bench"))
    order = [*table.inks, "W"]
    print(f"{'picture':16} {'colours':>8} {'table, Mpx/s':>14} {'looking, Mpx/s':>15} {'of the table':>13} {'laid':>8}")
    for name, pixels in {**{name: tiled(name, side) for name in PHOTOGRAPHS}, "flat art": discs(side)}.items():
        out = blank(pixels, order, table)
        separate_pixels(pixels, table.grid, out)
        base = min(timed(lambda p=pixels, o=out: separate_pixels(p, table.grid, o)) for _ in range(args.times))
        for count in (5, 20, 200):
            values = np.unique(np.random.default_rng(count).integers(0, 256, (count, 3), np.uint8), axis=0)
            absent = values[~met_in(pixels, values)]
            rows = np.zeros((len(absent), len(order)), np.uint8)
            lay(pixels, absent, rows, out.planes, out.coverage)
            looking = min(timed(lambda p=pixels, a=absent: met_in(p, a)) for _ in range(args.times))
            laid = min(
                timed(lambda p=pixels, a=absent, r=rows, o=out: lay(p, a, r, o.planes, o.coverage)) for _ in range(args.times)
            )
            size = pixels.shape[0] * pixels.shape[1] / 1e6
            print(
                f"{name:16} {len(absent):8} {size / base:14.0f} {size / looking:15.0f} {looking / base:13.1%} {laid / base:8.1%}"
            )


if __name__ == "__main__":
    main()
