"""A piece's screening: all that decides the dots of one design once its tones are known."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Final

import numpy as np

from filmhand import units
from filmhand.errors import SettingsError
from filmhand.halftone.am import am_ranks
from filmhand.halftone.blue_noise import blue_noise_ranks
from filmhand.halftone.thresholds import Ranks, Tile, thresholds
from filmhand.rules import Ink, Printer, Rule, ScreenKind, ScreenRules

THREE_DROPS: Final = 2
"""Bits a sample of a printer with three drop sizes."""
_SHIFT: Final = (50, 46)
"""Rows and columns by which each further ink's blue-noise tile is moved on its torus. Found by search: for every pair of ten
screens the share of dots that coincide is within 0.004 of the product of their tones."""
_AM_TURNS: Final = {
    Ink.BLACK: 0.0,
    Ink.CYAN: -30.0,
    Ink.MAGENTA: 30.0,
    Ink.YELLOW: -45.0,
    Ink.RED: -30.0,
    Ink.GREEN: 30.0,
    Ink.BLUE: -45.0,
    Ink.ORANGE: 15.0,
    Ink.WHITE: -15.0,
}
"""Degrees between an ink's AM screen and the rule's angle: the classic 30 between the dark inks, yellow in between, and a
further ink at the angle of the ink of opposite hue, with which it is hardly ever laid (common practice, no source)."""


@dataclass(frozen=True, eq=False)
class Screening:
    """How one piece's tones become dots.

    `coverage`: the tile that turns film coverage into islands. `inks`: by ink, one tile a drop size, smallest first: a drop of
    at least that size is laid where the tone is greater. All are used in the sheet's own coordinates.
    `choke_px`, `island_choke_px`: how far white is pulled in, in dots across and down, from where coverage ends, and around each
    island of screened coverage.
    """

    coverage: Tile
    inks: Mapping[str, tuple[Tile, ...]]
    choke_px: tuple[float, float]
    island_choke_px: tuple[float, float]


def screening_for(rule: Rule, *, printer: Printer, cache: Path) -> Screening:
    """The screening that a rule asks for on a printer. `cache` keeps the blue-noise tile.

    SettingsError if the printer has three drop sizes and the printer file does not say how large they are.
    """
    coverage = _ranks(rule.halftone.coverage, resolution=printer.resolution, cache=cache)
    inks = {}
    for place, ink in enumerate(printer.inks, start=1):
        ranks = _ink_ranks(rule.halftone.inks, ink, place=place, printer=printer, cache=cache)
        inks[str(ink)] = _drops(ranks, drop_sizes(printer, ink))
    return Screening(
        coverage=thresholds(coverage),
        inks=inks,
        choke_px=_in_dots(rule.underbase.choke, printer.resolution),
        island_choke_px=_at_least_a_dot(_in_dots(rule.underbase.island_choke, printer.resolution)),
    )


def drop_sizes(printer: Printer, ink: str) -> tuple[float, ...]:
    """Volumes of an ink's drops as fractions of the largest, smallest first; (1.0,) for a printer with one drop size."""
    if printer.bits != THREE_DROPS:
        return (1.0,)
    volumes = printer.drop_pl.of(ink)
    if len(volumes) != (1 << THREE_DROPS) - 1 or not 0 < volumes[0] < volumes[1] < volumes[2]:
        raise SettingsError(
            f"The printer has three drop sizes, but the volumes of ink {ink} are {list(volumes)} pl",
            next_step=f"In the printer file, give [drop_pl] {ink} three growing numbers, such as [4.0, 7.0, 12.0].",
        )
    return tuple(volume / volumes[-1] for volume in volumes)


def _ranks(screen: ScreenRules, *, resolution: tuple[int, int], cache: Path) -> Ranks:
    if screen.screen is ScreenKind.AM:
        return am_ranks(screen, resolution=resolution)
    return _blue_noise(cache)


def _ink_ranks(screen: ScreenRules, ink: Ink, *, place: int, printer: Printer, cache: Path) -> Ranks:
    """An ink's own screen, so that no two inks' dots fall together more often than by chance."""
    if screen.screen is ScreenKind.AM:
        turned = screen.model_copy(update={"angle": (screen.angle + _AM_TURNS[ink]) % 180})
        return am_ranks(turned, resolution=printer.resolution)
    down, across = _SHIFT
    return np.roll(_blue_noise(cache), (down * place, across * place), axis=(0, 1))


@lru_cache(maxsize=2)
def _blue_noise(cache: Path) -> Ranks:
    return blue_noise_ranks(cache)


def _drops(ranks: Ranks, sizes: tuple[float, ...]) -> tuple[Tile, ...]:
    """A tile a drop size. A tone is the share of the largest drop's volume, so its mean volume is what it says.

    Between two sizes' volumes a tone is made of those two; below the smallest, of the smallest and none.
    """
    return tuple(thresholds(ranks, start=start, full=full) for start, full in zip((0.0, *sizes), sizes, strict=False))


def _at_least_a_dot(choke_px: tuple[float, float]) -> tuple[float, float]:
    """A choke of half a dot or more takes one: a smaller radius than the dots' pitch would reach no neighbour, and take none."""
    across, down = choke_px
    return (max(across, 1.0), max(down, 1.0)) if min(across, down) >= 0.5 else choke_px  # noqa: PLR2004


def _in_dots(length_mm: float, resolution: tuple[int, int]) -> tuple[float, float]:
    across, down = resolution
    return units.mm_to_px(length_mm, across), units.mm_to_px(length_mm, down)
