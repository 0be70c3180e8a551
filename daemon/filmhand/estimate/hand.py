"""The hand of a print: how much of it is film, what that weighs, and the ink it takes beside the same design as full film.

Weights are estimates by the shop's own figures: drop volumes and dry matter (printer.toml, [drop_pl] and [solids_g_ml]) and the
powder that stays on printed film ([price], powder_g_m2). Less film feels softer; how soft a gram feels, no figure here says.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Self

from filmhand.estimate.estimate import ML_PER_PL, Estimate, dot_mm2
from filmhand.printer import Printer
from filmhand.separation.film_sums import FilmSums
from filmhand.units import MM2_PER_M2


@dataclass(frozen=True)
class Hand:
    """Of a design's one copy, or of all that lies on a sheet.

    `print_m2`: the artwork's own area, where it is not transparent. `coverage`: the share of it that carries film, 0 to 1.
    `film_g_m2`: dry ink and powder in g on a m² of print; `full_film_g_m2`: the same of the design as full film.
    `ink_ml`, `full_film_ink_ml`: by plane.
    """

    print_m2: float
    coverage: float
    film_g_m2: float
    full_film_g_m2: float
    ink_ml: Mapping[str, float]
    full_film_ink_ml: Mapping[str, float]

    @property
    def ml(self) -> float:
        """All ink, white with it."""
        return sum(self.ink_ml.values())

    @property
    def full_film_ml(self) -> float:
        """The same of full film."""
        return sum(self.full_film_ink_ml.values())

    @property
    def saved_percent(self) -> float:
        """Of full film's ink. Below 0 where more is laid: soft artwork under one half of opacity is no full film at all."""
        return 100 * (1 - self.ml / self.full_film_ml) if self.full_film_ml else 0.0

    def to_json(self) -> dict[str, Any]:
        """Plain values, rounded to what an estimate can say, for the journal and for tickets."""
        return {
            "print_m2": _six_digits(self.print_m2),
            "coverage_percent": round(100 * self.coverage, 2),
            "film_g_m2": round(self.film_g_m2, 2),
            "film_g_m2_full_film": round(self.full_film_g_m2, 2),
            "ink_ml": {plane: _six_digits(ml) for plane, ml in self.ink_ml.items()},
            "ink_ml_full_film": {plane: _six_digits(ml) for plane, ml in self.full_film_ink_ml.items()},
            "saved_percent": round(self.saved_percent, 1) + 0.0,
        }

    @classmethod
    def from_json(cls, values: Mapping[str, Any]) -> Self:
        """What `to_json` wrote."""
        return cls(
            print_m2=values["print_m2"],
            coverage=values["coverage_percent"] / 100,
            film_g_m2=values["film_g_m2"],
            full_film_g_m2=values["film_g_m2_full_film"],
            ink_ml=values["ink_ml"],
            full_film_ink_ml=values["ink_ml_full_film"],
        )


def design_hand(film: FilmSums, full: FilmSums, *, pixel_mm2: float, printer: Printer) -> Hand:
    """Of one copy, from what it comes to in pixels, as it is prepared and as full film.

    Ink is the largest drop on every dot of the printer's grid, times the amount; smaller drops come to the same volume.
    """
    ink, full_ink = (_ink_ml(sums.ink, pixel_mm2, printer) for sums in (film, full))
    print_m2 = film.artwork * pixel_mm2 / MM2_PER_M2
    grams, full_grams = (
        _grams(ml, covered_m2=sums.film * pixel_mm2 / MM2_PER_M2, printer=printer) for ml, sums in ((ink, film), (full_ink, full))
    )
    return Hand(
        print_m2=print_m2,
        coverage=_over(film.film, film.artwork),
        film_g_m2=_over(grams, print_m2),
        full_film_g_m2=_over(full_grams, print_m2),
        ink_ml=ink,
        full_film_ink_ml=full_ink,
    )


def sheet_hand(laid: Estimate, copies: Sequence[Hand | None], *, printer: Printer) -> Hand | None:
    """Of a sheet: what was laid on it by the dots, beside all its copies as full film. None if that is unknown of any copy."""
    known = [hand for hand in copies if hand is not None]
    if not known or len(known) < len(copies):
        return None
    designs = together(known)
    return Hand(
        print_m2=designs.print_m2,
        coverage=_over(laid.covered_m2, designs.print_m2),
        film_g_m2=_over(_grams(laid.ink_ml, covered_m2=laid.covered_m2, printer=printer), designs.print_m2),
        full_film_g_m2=designs.full_film_g_m2,
        ink_ml=dict(laid.ink_ml),
        full_film_ink_ml=designs.full_film_ink_ml,
    )


def together(hands: Sequence[Hand]) -> Hand:
    """Of several, at least one, as one: weights and coverage are means over the print area."""
    area = sum(hand.print_m2 for hand in hands)
    return Hand(
        print_m2=area,
        coverage=_over(sum(hand.coverage * hand.print_m2 for hand in hands), area),
        film_g_m2=_over(sum(hand.film_g_m2 * hand.print_m2 for hand in hands), area),
        full_film_g_m2=_over(sum(hand.full_film_g_m2 * hand.print_m2 for hand in hands), area),
        ink_ml=_sum([hand.ink_ml for hand in hands]),
        full_film_ink_ml=_sum([hand.full_film_ink_ml for hand in hands]),
    )


def _ink_ml(full_px: Mapping[str, float], pixel_mm2: float, printer: Printer) -> dict[str, float]:
    dots = pixel_mm2 / dot_mm2(printer)
    return {plane: amount * dots * printer.drop_pl.of(plane)[-1] * ML_PER_PL for plane, amount in full_px.items()}


def _grams(ink_ml: Mapping[str, float], *, covered_m2: float, printer: Printer) -> float:
    """Dry ink and powder on film."""
    dry = sum(ml * printer.solids_g_ml.of(plane) for plane, ml in ink_ml.items())
    return dry + printer.price.powder_g_m2 * covered_m2


def _sum(maps: Sequence[Mapping[str, float]]) -> dict[str, float]:
    planes = dict.fromkeys(plane for one in maps for plane in one)
    return {plane: sum(one.get(plane, 0.0) for one in maps) for plane in planes}


def _over(part: float, whole: float) -> float:
    return part / whole if whole else 0.0


def _six_digits(value: float) -> float:
    return float(f"{value:.6g}")
