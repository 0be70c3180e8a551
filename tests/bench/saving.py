"""What a black garment saves: ink, film and powder against full film, and how far colours go off for it.

    python tests/bench/saving.py [--rules dark-garment soft-hand] [--garment "#1b1b1d"] [--solid-from 85]

Photographs of scikit-image's wheel, and the demonstration's art (of files with faults only those that open), go through the
separation tables of starter rules; the printer file is the starter's, its inks the nominal ones. Full film: the same rule at a
knockout strength of 0 with no white spared, its density kept. Ink: the mean amount within the film, times the share of film
that the rule's screen makes of the coverage, rims of islands too, times the printer's drops; edges of the art are left out.
Film: that share, and dry ink with powder in g, on a square metre of print. White counts as its volume. ΔE00 is from the wanted
colour (that film and garment shall show) to the promised one (forward model of the 8-bit planes), pixels weighed by alpha. That
knockout with a screen takes about half of the ink is common practice, no source. Nothing here is asserted.
"""

import argparse
import tempfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from skimage import data

from filmhand import units
from filmhand.artwork.open import open_artwork
from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import lab_from_xyz
from filmhand.colour.nominal import nominal_model
from filmhand.colour.printer_tone import printer_tone
from filmhand.colour.srgb import xyz_of_hex
from filmhand.demo.draw import draw_artworks
from filmhand.estimate.island_shares import island_shares
from filmhand.halftone.screening import screening_for
from filmhand.intake.ticket import Ticket
from filmhand.preflight.finding import Finding
from filmhand.printer import Printer, load_printer
from filmhand.rules import Rule, RuleFile
from filmhand.separation.full_film import full_film_rule
from filmhand.separation.table import SeparationTable, build_table
from filmhand.separation.underbase import Underbase
from filmhand.separation.wanted import Looks, Setting

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]

ROOT = Path(__file__).parents[2]
PHOTOGRAPHS = ("astronaut", "coffee", "chelsea", "rocket", "motorcycle", "hubble_deep_field", "retina")
SAMPLE = 60000
"""Pixels of each picture that colours are judged on."""
PL_PER_ML = 1e9
MM2_PER_M2 = 1e6


class Laid(NamedTuple):
    """On a square metre of print: colour and white ink in ml, the share covered, g of dry ink and powder."""

    colour: float
    white: float
    coverage: float
    grams: float


@dataclass(frozen=True)
class Saved:
    """One picture: what is laid as full film, and by the rule; ΔE00 on the mean and at 95 of 100 pixels."""

    full: Laid
    laid: Laid
    mean: float
    p95: float


class Shop:
    """A rule's tables for a garment, by knockout and as full film."""

    def __init__(self, rule: Rule, printer: Printer, cache: Path) -> None:
        self.rule, self.printer = rule, printer
        self.islands = island_shares(screening_for(rule, printer=printer, cache=cache))
        self.model = nominal_model(tuple(str(ink) for ink in printer.colours))
        self.tone = printer_tone(self.model)
        self.by_rule, self.full = self._table(rule), self._table(full_film(rule))
        ground = xyz_of_hex(rule.garment)
        self.underbase = Underbase.of(rule.underbase, opacity=self.model.opacity, garment=ground, second_white=False)
        self.looks = Looks(Setting(None, self.model, self.underbase.garment_seen, rule))

    def _table(self, rule: Rule) -> SeparationTable:
        return build_table(None, model=self.model, garment=rule.garment, rule=rule)

    def saved(self, pixels: Bytes) -> Saved:
        """Of one picture (h, w, 4)."""
        off, weights = self._misses(pixels)
        order = np.argsort(off)
        p95 = off[order][np.searchsorted(np.cumsum(weights[order]), 0.95 * weights.sum())]
        return Saved(
            self._laid(pixels, self.full), self._laid(pixels, self.by_rule), float(np.average(off, weights=weights)), float(p95)
        )

    def _laid(self, pixels: Bytes, table: SeparationTable) -> Laid:
        """What a table lays of a picture on a square metre of what is not transparent."""
        tones, coverage, white = table.apply(pixels)
        share, under = self.islands.film[coverage], self.islands.white[coverage]
        print_area = pixels[..., 3].sum(dtype=np.float64) / 255
        planes = zip(table.inks, tones, strict=True)
        amounts = {ink: float((self.tone.curves[ink][plane] * share).sum()) for ink, plane in planes}
        amounts["W"] = float((white / 255 * under).sum())
        across, along = self.printer.resolution
        dots_m2 = MM2_PER_M2 / (units.px_to_mm(1, across) * units.px_to_mm(1, along))
        a_dot = {ink: dots_m2 * self.printer.drop_pl.of(ink)[-1] / PL_PER_ML for ink in amounts}
        ml = {ink: amount / print_area * a_dot[ink] for ink, amount in amounts.items()}
        covered = float(share.sum() / print_area)
        grams = sum(self.printer.solids_g_ml.of(ink) * each for ink, each in ml.items())
        grams += covered * self.printer.price.powder_g_m2
        return Laid(sum(each for ink, each in ml.items() if ink != "W"), ml["W"], covered, grams)

    def _misses(self, pixels: Bytes) -> tuple[Floats, Floats]:
        """ΔE00 (m,) of some of a picture's pixels taken as opaque, and their weights (m,), alpha."""
        every = pixels.reshape(-1, 4)
        every = every[every[:, 3] > 0]
        some = every[np.random.default_rng(2).permutation(len(every))[:SAMPLE]]
        opaque = some.copy()
        opaque[:, 3] = 255
        tones, coverage, white = self.by_rule.apply(opaque[None])
        film = self.model.xyz(self.tone.amounts(tones[:, 0].T / 255, inks=self.by_rule.inks))
        seen = self.underbase.seen(film, coverage[0] / 255, white[0] / 255, n=self.model.yule_nielsen)
        wanted = self.looks.of(np.ascontiguousarray(some[:, :3])).wanted
        return difference(lab_from_xyz(seen), lab_from_xyz(wanted)), some[:, 3] / 255


def full_film(rule: Rule) -> Rule:
    """The same rule with film everywhere, and one even layer of white."""
    underbase = rule.underbase.model_copy(update={"tolerance": 0.0})
    return full_film_rule(rule).model_copy(update={"underbase": underbase})


def photographs() -> Iterator[tuple[str, Bytes]]:
    """Name and pixels (h, w, 4)."""
    for name in PHOTOGRAPHS:
        picture = data.stereo_motorcycle()[0] if name == "motorcycle" else getattr(data, name)()
        rgb = np.asarray(picture)[..., :3]
        yield name, np.concatenate([rgb, np.full((*rgb.shape[:2], 1), 255, np.uint8)], axis=-1)


def flat_art(rule: Rule, printer: Printer) -> Iterator[tuple[str, Bytes]]:
    """The demonstration's artwork: name and pixels (h, w, 4)."""
    with tempfile.TemporaryDirectory() as folder:
        for file in draw_artworks(Path(folder)):
            artwork = open_artwork(file.path, ticket=Ticket.model_validate({"width": "280 mm"}), rule=rule, printer=printer)
            if not isinstance(artwork, Finding) and artwork.pixels[..., 3].any():
                yield file.name, np.ascontiguousarray(artwork.pixels)


def print_table(title: str, saved: Mapping[str, Saved]) -> None:
    """One line a picture, and their mean."""
    heads = f"{'colour, ml/m²':>17} {'white, ml/m²':>17} {'ink saved':>10} {'coverage':>9} {'film, g/m²':>15} {'ΔE00':>6}  p95"
    print(f"\n{title:30} {heads}")
    every = list(saved.values())
    mean = Saved(
        Laid(*np.mean([one.full for one in every], axis=0)),
        Laid(*np.mean([one.laid for one in every], axis=0)),
        float(np.mean([one.mean for one in every])),
        float(np.mean([one.p95 for one in every])),
    )
    for name, one in {**saved, "all, each alike": mean}.items():
        full, laid = one.full, one.laid
        ink = 1 - (laid.colour + laid.white) / (full.colour + full.white)
        volumes = f"{full.colour:8.2f} → {laid.colour:6.2f} {full.white:8.2f} → {laid.white:6.2f}"
        film = f"{laid.coverage:9.1%} {full.grams:6.1f} → {laid.grams:6.1f}"
        print(f"{name:30} {volumes} {ink:10.1%} {film} {one.mean:6.2f} {one.p95:4.2f}")


def main() -> None:
    """Two tables a rule."""
    arguments = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    arguments.add_argument("--rules", nargs="+", default=["dark-garment", "soft-hand"])
    arguments.add_argument("--garment", default="#1b1b1d")
    arguments.add_argument("--solid-from", type=float)
    chosen = arguments.parse_args()
    printer = load_printer(ROOT / "daemon/filmhand/templates/printer.toml")
    for name in chosen.rules:
        rule = RuleFile.load(ROOT / f"rules/{name}.toml").for_width(280)
        changes = {} if chosen.solid_from is None else {"solid_from": chosen.solid_from}
        knockout = rule.knockout.model_copy(update=changes)
        rule = rule.model_copy(update={"garment": chosen.garment, "knockout": knockout})
        with tempfile.TemporaryDirectory() as cache:
            shop = Shop(rule, printer, Path(cache))
        for title, pictures in (("photographs", photographs()), ("the demo's art", flat_art(rule, printer))):
            print_table(f"{name}, {title}", {label: shop.saved(pixels) for label, pixels in pictures})


if __name__ == "__main__":
    main()
