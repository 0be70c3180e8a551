"""Figures for previews: megapixels a second of the look of prints, and how near drawn dots come to their wedges.

    python tests/bench/appearance.py [--times 9]

Soft random coverage, four inks and white on three garments, on one core, the least processor time of several. Then blue-noise
tones of the synthetic printer's inks, drawn at eight pixels a dot: the area drawn less the effective area of the wedge, for
several Yule-Nielsen factors, and the same of nominal white. Last, what it costs in colour to take choked white for thin white.
Nothing here is asserted.
"""

import argparse
import sys
import time
from pathlib import Path

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from colour.synthetic import SyntheticColours
from filmhand.colour.appearance import appearance
from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import D50_WHITE, lab_from_xyz
from filmhand.colour.dot_spread import drawn, reach, spread_radius
from filmhand.colour.neugebauer import between, to_mixing_space
from filmhand.colour.nominal import nominal_model
from filmhand.colour.opacity import NOMINAL, laid
from filmhand.colour.srgb import xyz_of_hex
from filmhand.halftone.blue_noise import void_and_cluster

MODEL = nominal_model(tuple("CMYK"))
GARMENTS = ("#1b1b1d", "#c4152b", "#d8c8a0")
SIDE = 64
TONES = np.array([0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95])


def main() -> None:
    """The three tables."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--times", type=int, default=9)
    speed(parser.parse_args().times)
    dots()
    choked()


def speed(times: int) -> None:
    """Megapixels a second."""
    rng, size = np.random.default_rng(1), (1024, 1200)
    soft = [cv2.GaussianBlur(rng.random(size, np.float32), (0, 0), 8) for _ in range(6)]
    coverage, white, *inks = (np.clip((noise - 0.5) * 20 + 0.5, 0, 1) for noise in soft)
    garments = np.stack([xyz_of_hex(garment) for garment in GARMENTS])
    lies_on = np.repeat(np.arange(3, dtype=np.uint8), 400)[None].repeat(size[0], 0)
    least = np.inf
    for _ in range(times + 1):
        began = time.thread_time()
        appearance(coverage, np.stack(inks), garments=garments, model=MODEL, white=2 * white, lies_on=lies_on)
        least = min(least, time.thread_time() - began)
    print(f"appearance: {coverage.size / least / 1e6:.1f} Mpx/s")


def dots() -> None:
    """Drawn areas less those of wedges."""
    ranks = void_and_cluster(SIDE, first_dots=SIDE * SIDE // 10, seed=1993)
    print(f"\n{'drawn less wedge, at %':24}" + "".join(f"{100 * tone:7.0f}" for tone in TONES) + "    rms")
    for n in (1.7, 2.0, 3.0):
        model = SyntheticColours(n, tuple("CMYKRGBO"))
        radii = spread_radius(model)
        for i, ink in enumerate(model.inks):
            amounts = np.concatenate([[0], TONES, [1]])[:, None] * np.eye(len(model.inks))[i]
            seen = to_mixing_space(model.xyz(amounts), n)
            seen = seen[:, np.argmax(seen[0] - seen[-1])]
            row(f"n {n} {ink} radius {radii[ink]:.2f}", ranks, radii[ink], (seen[0] - seen[1:-1]) / (seen[0] - seen[-1]))
    white = spread_radius(MODEL)["W"]
    row(f"nominal W radius {white:.2f}", ranks, white, laid(TONES, NOMINAL.closes_at)[0])


def row(name: str, ranks: np.ndarray, radius: float, effective: np.ndarray) -> None:
    """One ink's."""
    rim, areas = reach(radius), []
    for tone in TONES:
        levels = np.where(tone * ranks.size > ranks, 255, 0).astype(np.uint8)
        picture = drawn(np.pad(levels, rim, mode="wrap"), radius, zoom=8)
        areas.append(picture[rim * 8 : (rim + SIDE) * 8, rim * 8 : (rim + SIDE) * 8].mean(dtype=float))
    off = np.array(areas) - effective
    print(f"{name:24}" + "".join(f"{value:7.3f}" for value in off) + f"{np.sqrt((off**2).mean()):7.3f}")


def choked() -> None:
    """ΔE00 between white missing in one place and evenly, greatest over all shares of white."""
    shares, n = np.linspace(0, 1, 101), MODEL.yule_nielsen
    print("\nchoked white taken for thin white, bare film, nominal opacity: greatest ΔE00 at coverage 100 %, 50 %")
    for garment in GARMENTS:
        ground = xyz_of_hex(garment)
        thin = D50_WHITE * NOMINAL.share(shares, garment=ground)
        apart = between(ground, D50_WHITE * NOMINAL.share(1.0, garment=ground), shares[:, None], n=n)
        lab = [[lab_from_xyz(between(ground, film, a, n=n)) for film in (thin, apart)] for a in (1.0, 0.5)]
        print(garment, *(f"{difference(*pair).max():6.1f}" for pair in lab))


if __name__ == "__main__":
    main()
