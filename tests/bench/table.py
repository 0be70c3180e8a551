"""Seconds to build a separation table of 33 nodes an axis, by inks, black generation and knockout.

    python tests/bench/table.py [--inks CMYK CMYKO CMYKRGBO] [--runs 3]

Nominal inks, white left out; garment #1b1b1d where there is knockout. The best of the runs, kernels compiled before: seconds by
the clock, and of processor. Nothing here is asserted: it is for comparing before and after, on one machine.
"""

import argparse
import time

from filmhand.colour.nominal import nominal_model
from filmhand.rules import Rule
from filmhand.separation.table import build_table


def main() -> None:
    """Print the figures."""
    arguments = argparse.ArgumentParser()
    arguments.add_argument("--inks", nargs="+", default=["CMYK", "CMYKO", "CMYKRGBO"])
    arguments.add_argument("--runs", type=int, default=3)
    chosen = arguments.parse_args()
    for inks in chosen.inks:
        for black in ("medium", "least-ink"):
            for strength in (0.0, 1.0):
                rule = Rule.model_validate({"title": "bench", "colour": {"black": black}, "knockout": {"strength": strength}})
                seconds = []
                for _ in range(chosen.runs + 1):
                    model = nominal_model(tuple(inks))
                    clock, processor = time.perf_counter(), time.process_time()
                    build_table(None, model=model, garment="#1b1b1d", rule=rule)
                    seconds.append((time.perf_counter() - clock, time.process_time() - processor))
                best = min(seconds[1:])
                knockout = "with knockout" if strength else "no knockout"
                print(f"{inks}+W  {black:9}  {knockout:13}  {best[0]:5.2f} s, of processor {best[1]:5.2f} s", flush=True)


if __name__ == "__main__":
    main()
