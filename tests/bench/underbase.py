"""Figures for the underbase that thinks: white laid on photographs, and what tables in tones are off by.

    python tests/bench/underbase.py

White of the photographs of scikit-image's wheel (coverage times volume, added up) against full white under the same film, and
against full white under full film, by garment and knockout, nominal inks, tolerance 1. Then ΔE00 from the look wanted to the look
of random sRGB values through a table that is mixed in tones, and through one mixed in amounts, over the fullest white; each in
float and in 8 bits. Nothing here is asserted.
"""

from dataclasses import replace
from pathlib import Path

import numpy as np
import skimage.data
from lookup import PHOTOGRAPHS
from numpy.typing import NDArray
from PIL import Image

from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import lab_from_xyz
from filmhand.colour.model import InkModel
from filmhand.colour.neugebauer import between
from filmhand.colour.nominal import nominal_model
from filmhand.colour.printer_tone import printer_tone
from filmhand.colour.srgb import xyz_of_hex
from filmhand.rules import Rule
from filmhand.separation.table import SeparationTable, build_table
from filmhand.separation.wanted import Looks, Setting

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]

GARMENTS = ("#1b1b1d", "#c4152b", "#f1ebdd")
FINE = 255.0


def main() -> None:
    """Both tables."""
    model = nominal_model(tuple("CMYK"))
    pictures = {name: np.asarray(Image.open(Path(skimage.data.__file__).parent / name).convert("RGBA")) for name in PHOTOGRAPHS}
    print(
        "white saved           strength "
        + "".join(f"{name:>15}" for name in pictures)
        + "   all: of the same film / of full film"
    )
    rgb = np.random.default_rng(0).integers(0, 256, (40000, 3), np.uint8)
    lines = []
    for garment in GARMENTS:
        for strength in (0.0, 1.0):
            rule = Rule.model_validate({"title": "bench", "knockout": {"strength": strength}})
            table = build_table(None, model=model, garment=garment, rule=rule)
            laid = np.array([white_of(picture, table) for picture in pictures.values()])
            saved = 1 - laid[:, 0] / laid[:, 1]
            whole = 1 - laid.sum(axis=0)[0] / laid.sum(axis=0)[1:]
            each = "".join(f"{part:15.1%}" for part in saved)
            print(f"{garment:22} {strength:7.0f} {each} {whole[0]:15.1%} / {whole[1]:.1%}", flush=True)
            lines += [f"{garment} {strength:5.0f}   {text}" for text in accuracy(rgb, table, model, (garment, rule))]
    print("\nmixed in   garment, strength                    ΔE00 from wanted: mean, 95 %, most", *lines, sep="\n")


def white_of(picture: Bytes, table: SeparationTable) -> tuple[float, float, float]:
    """White laid, in layers times pixels: by the table, full under the table's film, and full under full film."""
    _, coverage, white = table.apply(picture)
    film = coverage / FINE
    return float((film * white).sum() / FINE), float(film.sum() * table.most_white), coverage.size * table.most_white


def accuracy(rgb: Bytes, table: SeparationTable, model: InkModel, on: tuple[str, Rule]) -> list[str]:
    """How far looks through the table lie from the wanted, mixed in tones and in amounts."""
    garment, rule = on
    bare = xyz_of_hex(garment) / table.film_share
    look = Looks(Setting(None, model, bare, rule)).of(rgb)
    wanted = look.wanted if rule.knockout.strength else look.full
    tone = printer_tone(model)
    result = []
    for name in ("tones", "amounts"):
        values = table.values.astype(float)
        if name == "amounts":
            values[..., 1:] = values[..., :1] * tone.amounts(values[..., 1:] / np.maximum(values[..., :1], 1e-9), inks=table.inks)
        for bits in ("float", "8 bits"):
            coverage, inks = (mixed if bits == "float" else mixed_in_8_bits)(rgb, table, values)
            amounts = tone.amounts(inks, inks=table.inks) if name == "tones" else inks
            shown = between(bare, model.xyz(amounts), coverage[:, None], n=model.yule_nielsen)
            off = difference(lab_from_xyz(shown), lab_from_xyz(wanted))
            result.append(f"{name:8} {bits:8} {off.mean():8.3f} {np.percentile(off, 95):8.3f} {off.max():8.3f}")
    return result


def mixed_in_8_bits(rgb: Bytes, table: SeparationTable, values: Floats) -> tuple[Floats, Floats]:
    """Coverage (m,) and inks (m, k) as the kernel has them."""
    changed = replace(table, values=values.astype(np.float32))
    inks, coverage, _ = changed.apply(np.insert(rgb, 3, 255, axis=1)[None])
    return coverage[0] / FINE, inks[:, 0].T / FINE


def mixed(rgb: Bytes, table: SeparationTable, values: Floats) -> tuple[Floats, Floats]:
    """The same by tetrahedral interpolation in double precision."""
    part, at = np.empty(rgb.shape), np.empty(rgb.shape, int)
    for i, axis in enumerate(table.axes):
        at[:, i] = np.clip(np.searchsorted(axis, rgb[:, i], side="right") - 1, 0, len(axis) - 2)
        low, high = axis[at[:, i]].astype(float), axis[at[:, i] + 1].astype(float)
        part[:, i] = (rgb[:, i] - low) / (high - low)
    order, rows = np.argsort(-part, axis=1, kind="stable"), np.arange(len(rgb))
    total, before = values[tuple(at.T)], values[tuple(at.T)]
    for step in order.T:
        at[rows, step] += 1
        after = values[tuple(at.T)]
        total, before = total + part[rows, step][:, None] * (after - before), after
    return total[:, 0], total[:, 1:] / np.maximum(total[:, :1], 1e-9)


if __name__ == "__main__":
    main()
