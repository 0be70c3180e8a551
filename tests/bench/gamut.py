"""Figures for gamuts: times of boundary and mapping, and how much of sRGB inks can print, by ink set, limit and intent.

    python tests/bench/gamut.py [--limits 220 300] [--steps 36]

For the nominal inks, C M Y K and with R G B O. Coverage is the share of sRGB's volume, black moved to the print's, that is in
gamut. Differences are ΔE00 over a grid of sRGB of so many steps a channel: of all colours, and of those that were printable.
"""

import argparse
import time
from collections.abc import Callable
from typing import TypeVar

import numpy as np

from filmhand.colour import srgb
from filmhand.colour.black_point import compensated
from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import lab_from_xyz
from filmhand.colour.gamut_boundary import GamutBoundary, printable_boundary, srgb_boundary
from filmhand.colour.gamut_mapping import mapped
from filmhand.colour.gamut_space import xyz_from_lch
from filmhand.colour.nominal import nominal_model
from filmhand.rules import Intent

INKS = ("CMYK", "CMYKRGBO")
Result = TypeVar("Result")


def main() -> None:
    """The tables."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--limits", type=float, nargs="+", default=(220, 300), metavar="%")
    parser.add_argument("--steps", type=int, default=36)
    args = parser.parse_args()
    rgb = np.stack(np.meshgrid(*[np.linspace(0, 1, args.steps)] * 3, indexing="ij"), axis=-1).reshape(-1, 3)
    light = srgb.decode(rgb) @ srgb.TO_XYZ.T
    for inks in INKS:
        model = nominal_model(tuple(inks))
        for limit in args.limits:
            gamut, seconds = timed(lambda model=model, limit=limit: printable_boundary(model, limit=limit / 100))
            black = xyz_from_lch(np.array([gamut.darkest, 0, 0]))
            source, seconds_source = timed(lambda black=black: srgb_boundary(black=black))
            print(
                f"{inks} {limit:.0f} %: boundary {seconds:.2f} s, sRGB's {seconds_source:.2f} s, volume {gamut.volume:.0f}, ",
                end="",
            )
            print(f"darkest gray {gamut.darkest:.1f}, sRGB covered {100 * covered(gamut, source):.1f} %")
            colours = compensated(light, black=np.zeros(3), to=black)
            printable = gamut.holds(colours)
            for intent in (Intent.PERCEPTUAL, Intent.RELATIVE, Intent.SATURATION):
                moved, seconds = timed(lambda c=colours, g=gamut, i=intent, s=source: mapped(c, gamut=g, intent=i, source=s))
                miss = difference(lab_from_xyz(moved), lab_from_xyz(colours))
                print(f"    {intent.value:11} {seconds:.2f} s for {len(colours)}, ΔE00 {miss.mean():.2f}, ", end="")
                print(f"95 % {np.percentile(miss, 95):.1f}, of the printable {miss[printable].mean():.2f}")


def covered(gamut: GamutBoundary, source: GamutBoundary) -> float:
    """Share of the source's volume that is in the gamut."""
    lightness, hue = np.meshgrid(np.linspace(source.darkest, source.lightest, 400), np.arange(0.0, 360, 0.5))
    whole = source.most_chroma(lightness, hue)
    return float((np.minimum(whole, gamut.most_chroma(lightness, hue)) ** 2).sum() / (whole**2).sum())


def timed(work: Callable[[], Result]) -> tuple[Result, float]:
    """What work makes, and the seconds it takes the second time, kernels compiled."""
    work()
    start = time.perf_counter()
    return work(), time.perf_counter() - start


if __name__ == "__main__":
    main()
