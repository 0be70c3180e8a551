"""What red, green, blue and orange beside C, M, Y, K (and white) are worth, on the synthetic printer: no such chart is published.

    python tests/bench/nine_inks.py [--patches 420 480] [--noise 0.2] [--limit 300] [--pictures FOLDER]

Four and eight colour inks are fitted from charts of so many patches, printed by the synthetic printer (tests/colour/synthetic.py)
and measured with so much noise in L*, a* and b*. All separations are of 8 bits, and judged by the printer's true colours:

* Saturated colours: the surface of the sRGB cube, and of the Display P3 cube, on 25 even steps an edge, where CIELAB chroma is
  over 60; share within ΔE00 2 of the print's, with inks found for each colour by itself (medium black).
* Photographs of scikit-image's wheel: ink (of one full ink) on pixels that either set of inks prints within ΔE00 1, by its table.
* Hue circles: in CIELAB, each half degree by itself, largest second difference of the printed colour (ΔE*ab; a true circle has
  0.004) and largest step of an ink; and three rings of sRGB through the tables, second differences over four steps either side.
  Pictures of the rings, as printed, with the inks below, go to the folder: look at them for seams.
"""

import argparse
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import cv2
import numpy as np
import skimage.data
from numpy.typing import NDArray

from filmhand.colour.adaptation import bradford
from filmhand.colour.chart.grid import patches
from filmhand.colour.charted import ChartedModel
from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import D50_WHITE, lab_from_xyz, xyz_from_lab
from filmhand.colour.fitted.fit import fit
from filmhand.colour.measured.repeats import averaged
from filmhand.colour.printer_tone import printer_tone
from filmhand.colour.sectors import sectors
from filmhand.colour.srgb import TO_XYZ, decode, srgb_from_xyz, xyz_from_srgb, xyz_of_hex
from filmhand.rules import ColourRules, Rule
from filmhand.separation.table import SeparationTable, build_table
from filmhand.separation.wanted import Looks, Setting

sys.path.insert(0, str(Path(__file__).parents[1]))
from colour.synthetic import SyntheticPrinter

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]

INK_SETS: Final = ("CMYK", "CMYKRGBO")
PHOTOGRAPHS: Final = ("astronaut", "coffee", "chelsea", "rocket", "retina")
CIRCLES: Final = ((70, 25), (60, 40), (50, 55))
"""L* and chroma."""
RINGS: Final = ((255, 0), (240, 80), (220, 140))
"""Highest and lowest channel."""
SHOWN: Final = {"C": "#0090c8", "M": "#d0007c", "Y": "#c8b400", "K": "#000000", "R": "#e01810", "G": "#00a040", "B": "#2030c0"}


def main() -> None:
    """All figures."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--patches", type=int, nargs=2, default=(420, 480), metavar=("FOUR", "EIGHT"))
    parser.add_argument("--noise", type=float, default=0.2)
    parser.add_argument("--limit", type=float, default=300)
    parser.add_argument("--pictures", type=Path)
    args = parser.parse_args()
    print("Synthetic printer: nothing here was measured on a machine.")
    models = [fitted(inks, count, args.noise) for inks, count in zip(INK_SETS, args.patches, strict=True)]
    saturated(models, args.limit)
    photographs(models, args.limit)
    circles(models, args.limit)
    rings(models, args.limit, args.pictures)


def fitted(inks: str, count: int, noise: float) -> ChartedModel:
    """The model of a chart, and how far it is from the truth on mixes that no chart holds."""
    printer, began = SyntheticPrinter(tuple(inks)), time.perf_counter()
    chart = averaged(printer.measure(patches(tuple(inks), count), noise_lab=noise, seed=1)).readings
    model = ChartedModel(fit(chart).model)
    amounts = mixes(inks, 3000)
    off = difference(lab_from_xyz(model.xyz(amounts)), lab_from_xyz(printer.xyz(amounts)))
    print(
        f"{len(inks)} inks, {count} patches, noise {noise}: model against truth ΔE00 mean {off.mean():.2f}, "
        f"p95 {np.percentile(off, 95):.2f}, max {off.max():.2f}; factor {model.yule_nielsen}, {time.perf_counter() - began:.0f} s"
    )
    return model


def mixes(inks: str, count: int) -> Floats:
    """Random amounts (count, k) within the hue sectors, 300 % at most."""
    rng, result = np.random.default_rng(5), np.zeros((count, len(inks)))
    for row, sector in zip(result, (sectors(tuple(inks)) * count)[:count], strict=True):
        row[[inks.index(ink) for ink in sector]] = rng.random(len(sector)) * (rng.random(len(sector)) < 0.8)
    return result * np.minimum(1, 3 / np.maximum(result.sum(axis=1, keepdims=True), 1e-9))


def truth(model: ChartedModel, inks: Floats) -> Floats:
    """CIELAB (m, 3) that the printer shows for inks (m, k), rounded to 8 bits."""
    return lab_from_xyz(SyntheticPrinter(model.inks).xyz(np.rint(255 * inks) / 255))


def saturated(models: list[ChartedModel], limit: float) -> None:
    """Shares of strong colours that are printed."""
    rules = ColourRules(ink_limit=limit)
    # Display P3: x, y of red, green and blue (SMPTE RP 431-2) over D65, with sRGB's curve; from memory.
    xy = np.array([[0.680, 0.320], [0.265, 0.690], [0.150, 0.060]])
    columns, white = np.stack([xy[:, 0] / xy[:, 1], np.ones(3), (1 - xy.sum(axis=1)) / xy[:, 1]]), np.array([0.9505, 1, 1.089])
    to_xyz = bradford(white, to=D50_WHITE) @ (columns * np.linalg.solve(columns, white))
    for name, matrix in (("sRGB", TO_XYZ), ("Display P3", to_xyz)):
        xyz = decode(cube_surface(25)) @ matrix.T
        lab = lab_from_xyz(xyz)
        strong = np.hypot(lab[:, 1], lab[:, 2]) > 60
        print(f"saturated colours of {name} ({strong.sum()}): within ΔE00 2", end="")
        for model in models:
            off = difference(truth(model, model.exact_inks_for(xyz[strong], rules)), lab[strong])
            print(f"   {len(model.inks)} inks {100 * (off <= 2).mean():.1f} % (mean {off.mean():.2f})", end="")
        print()


def cube_surface(steps: int) -> Floats:
    """Values (m, 3), 0 to 1."""
    cube = np.stack(np.meshgrid(*[np.linspace(0, 1, steps)] * 3, indexing="ij"), axis=-1).reshape(-1, 3)
    return cube[(cube == 0).any(axis=1) | (cube == 1).any(axis=1)]


def photographs(models: list[ChartedModel], limit: float) -> None:
    """Ink on what both print."""
    for black in ("light", "medium", "least-ink"):
        colour = {"ink_limit": limit, "black": black, "black_point_compensation": False, "intent": "relative"}
        tables = [table_of(model, colour) for model in models]
        for name in PHOTOGRAPHS:
            pixels = np.asarray(getattr(skimage.data, name)())[..., :3].reshape(-1, 3)
            pixels = pixels[np.random.default_rng(2).permutation(len(pixels))[:20000]]
            xyz, rules = xyz_from_srgb(pixels), ColourRules(ink_limit=limit)
            lab, can = lab_from_xyz(xyz), np.ones(len(pixels), bool)
            for model in models:
                can &= difference(lab_from_xyz(model.xyz(model.exact_inks_for(xyz, rules))), lab) < 1
            inks = [separated(table, pixels[can], model) for table, model in zip(tables, models, strict=True)]
            off = [difference(truth(model, each), lab[can]).mean() for model, each in zip(models, inks, strict=True)]
            four, eight = (100 * each.sum(axis=1).mean() for each in inks)
            print(
                f"{name:10} {black:9} {100 * can.mean():3.0f} % printable: ink {four:.1f} -> {eight:.1f} %, "
                f"saved {100 * (1 - eight / four):.1f} %; ΔE00 mean {off[0]:.2f}, {off[1]:.2f}"
            )


def table_of(model: ChartedModel, colour: dict[str, object]) -> SeparationTable:
    """For sRGB, film everywhere."""
    return build_table(None, model=model, garment="#ffffff", rule=Rule.model_validate({"title": "bench", "colour": colour}))


def separated(table: SeparationTable, rgb: Bytes, model: ChartedModel) -> Floats:
    """Ink amounts (m, k), 0 to 1, from 8-bit planes."""
    tones = table.apply(np.insert(rgb, 3, 255, axis=1)[None])[0][:, 0].T / 255
    return printer_tone(model).amounts(tones, inks=table.inks)


def circles(models: list[ChartedModel], limit: float) -> None:
    """Seams between sectors, if any, where each colour is sought by itself."""
    hues = np.radians(np.arange(0, 360, 0.5))
    for lightness, chroma in CIRCLES:
        lab = np.stack([np.full(len(hues), lightness), chroma * np.cos(hues), chroma * np.sin(hues)], axis=-1)
        print(f"circle L* {lightness}, chroma {chroma}:", end="")
        for model in models:
            inks = model.exact_inks_for(xyz_from_lab(lab), ColourRules(ink_limit=limit))
            printed = lab_from_xyz(SyntheticPrinter(model.inks).xyz(inks))
            off = difference(printed, lab)
            step = np.abs(inks - np.roll(inks, 1, axis=0)).max()
            print(
                f"   {len(model.inks)} inks: ΔE00 mean {off.mean():.2f}, max {off.max():.2f}; "
                f"second difference max {bend(printed, 1).max():.3f}; ink step max {100 * step:.1f} %",
                end="",
            )
        print()


def rings(models: list[ChartedModel], limit: float, folder: Path | None) -> None:
    """Seams as artwork shows them, through the tables."""
    ways = [ring(high, low) for high, low in RINGS]
    shown = [[xyz_from_srgb(way) for way in ways]]
    for model in models:
        colour = {"ink_limit": limit}
        table, looks = table_of(model, colour), Looks(Setting(None, model, xyz_of_hex("#ffffff"), rule_of(colour)))
        inks = [separated(table, way, model) for way in ways]
        printed = [truth(model, each) for each in inks]
        for (high, low), way, lab in zip(RINGS, ways, printed, strict=True):
            promised = lab_from_xyz(looks.of(way).full)
            off = difference(lab, promised)
            bends = [bend(each, 4).max() for each in (lab_from_xyz(xyz_from_srgb(way)), promised, lab)]
            print(
                f"ring {high} to {low}, {len(model.inks)} inks: ΔE00 from promised mean {off.mean():.2f}, max {off.max():.2f}; ",
                end="",
            )
            print(f"second difference max: source {bends[0]:.2f}, promised {bends[1]:.2f}, printed {bends[2]:.2f}")
        shown.append([xyz_from_lab(lab) for lab in printed])
        if folder:
            folder.mkdir(parents=True, exist_ok=True)
            lines = np.concatenate([ink_lines(each, model.inks) for each in inks])
            cv2.imwrite(str(folder / f"inks-{len(model.inks)}.png"), lines[..., ::-1])
    if folder:
        discs = np.concatenate([disc([srgb_from_xyz(xyz) for xyz in each]) for each in shown], axis=1)
        cv2.imwrite(str(folder / "rings-source-four-eight.png"), discs[..., ::-1])
        strips = np.concatenate([strip(srgb_from_xyz(each[i])) for i in range(len(RINGS)) for each in shown])
        cv2.imwrite(str(folder / "strips-source-four-eight.png"), strips[..., ::-1])


def rule_of(colour: dict[str, object]) -> Rule:
    """A rule with these colour rules."""
    return Rule.model_validate({"title": "bench", "colour": colour})


def ring(high: int, low: int) -> Bytes:
    """All 8-bit values of full saturation between two levels, around: one channel changes by one at a time (m, 3)."""

    def walk() -> Iterator[list[int]]:
        at = [high, low, low]
        for channel, end in ((1, high), (0, low), (2, high), (1, low), (0, high), (2, low)):
            while at[channel] != end:
                at[channel] += 1 if end > at[channel] else -1
                yield list(at)

    return np.array(list(walk()), np.uint8)


def bend(lab: Floats, reach: int) -> Floats:
    """How far (m,) each colour lies off the line between those `reach` before and after it, around: twice that."""
    return np.linalg.norm(np.roll(lab, reach, axis=0) - 2 * lab + np.roll(lab, -reach, axis=0), axis=-1)


def disc(colours: list[Bytes], side: int = 640) -> Bytes:
    """Rings (each (m, 3)), the first outermost, on white."""
    y, x = np.mgrid[:side, :side] - (side - 1) / 2
    turn, radius = (np.arctan2(-y, x) / (2 * np.pi)) % 1, np.hypot(x, y) / (side / 2)
    picture = np.full((side, side, 3), 255, np.uint8)
    for i, way in enumerate(colours):
        within = (radius < 0.97 - 0.28 * i) & (radius >= 0.70 - 0.28 * i)
        picture[within] = way[np.minimum((turn[within] * len(way)).astype(int), len(way) - 1)]
    return picture


def strip(way: Bytes, width: int = 1530, height: int = 60) -> Bytes:
    """A ring laid out flat."""
    return np.tile(way[np.arange(width) * len(way) // width], (height, 1, 1))


def ink_lines(inks: Floats, letters: tuple[str, ...], width: int = 1530, height: int = 260) -> Bytes:
    """Each ink's amount around a ring, none at the bottom and full at the top."""
    picture = np.full((height, width, 3), 255, np.uint8)
    columns = np.arange(width)
    for letter, amount in zip(letters, inks.T, strict=True):
        rows = (height - 10) - (height - 20) * amount[columns * len(amount) // width]
        points = np.stack([columns, rows], axis=-1).round().astype(np.int32)
        cv2.polylines(picture, [points], False, tuple(bytes.fromhex(SHOWN.get(letter, "#f08000")[1:])), 2, cv2.LINE_AA)
    return picture


if __name__ == "__main__":
    main()
