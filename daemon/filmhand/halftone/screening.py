"""A piece's screening: all that decides the dots of one design once its tones are known."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand import units
from filmhand.colour.cielab import lab_from_xyz
from filmhand.colour.srgb import xyz_of_hex
from filmhand.errors import SettingsError
from filmhand.halftone.am import Least, am_onsets
from filmhand.halftone.blue_noise import blue_noise_onsets
from filmhand.halftone.diffusion import Diffusion
from filmhand.halftone.thresholds import Floats, Onsets, Tile, thresholds
from filmhand.rules import HIGHLIGHT, Ink, Printer, Rule, ScreenKind
from filmhand.rules import InkScreenRules as InkScreen

THREE_DROPS: Final = 2
"""Bits a sample of a printer with three drop sizes."""
_SHIFT: Final = (50, 46)
"""Rows and columns by which each further plane's blue-noise tile is moved on its torus. Found by search: for every pair of ten
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
_HIGHLIGHT_TURN: Final = 30.0
"""Degrees between the screens of the two whites."""
_DARK_L: Final = 50.0
"""L* below which ink on the bare garment is nearer to the garment than to the same ink on white, whatever the ink."""
_STRAIGHT: Final = np.linspace(0.0, 1.0, 256)
_SLACK: Final = 1e-9


@dataclass(frozen=True, eq=False)
class FilmScreen:
    """How one piece's coverage becomes film, and where white may lie under it.

    `coverage`: the tile that turns film coverage into islands. `choke_px`, `island_choke_px`: how far white is pulled in, in dots
    across and down, from where coverage ends, and around each island of screened coverage. `spreads`: islands go
    `island_choke_px` beyond what is screened, so that their white has all of it. `least_dot_px`, `least_hole_px`: dots across and
    down of the smallest island and hole that screened coverage may have; `chance`: the tile by which smaller ones grow or go.
    """

    coverage: Tile
    choke_px: tuple[float, float]
    island_choke_px: tuple[float, float]
    spreads: bool
    least_dot_px: tuple[float, float]
    least_hole_px: tuple[float, float]
    chance: Tile


@dataclass(frozen=True, eq=False)
class Screening(FilmScreen):
    """How one piece's tones become dots: its film, and its inks on that.

    `inks`: by plane, one tile a drop size, smallest first: a drop of at least that size is laid where the tone is greater; or how
    its tones are diffused. Their tiles are used in the sheet's own coordinates. `tones`: by plane, (256,) uint8, 255 = full ink,
    what is sent for each tone to a controller that screens.
    """

    inks: Mapping[str, tuple[Tile, ...] | Diffusion]
    tones: Mapping[str, NDArray[np.uint8]]


def film_screen_for(rule: Rule, *, printer: Printer, cache: Path) -> FilmScreen:
    """The screen of the film alone that a rule asks for on a printer. `cache` keeps the blue-noise tile."""
    return FilmScreen(
        coverage=thresholds(_coverage(rule, printer, cache)),
        choke_px=_in_dots(rule.underbase.choke, printer.resolution),
        island_choke_px=_at_least_a_dot(_in_dots(rule.underbase.island_choke, printer.resolution)),
        spreads=spreads_on(rule.garment),
        least_dot_px=_in_dots(rule.halftone.least_dot, printer.resolution),
        least_hole_px=_in_dots(rule.halftone.least_hole, printer.resolution),
        chance=thresholds(blue_noise_onsets(cache)),
    )


def screening_for(rule: Rule, *, printer: Printer, cache: Path, curves: Mapping[str, Floats] | None = None) -> Screening:
    """The screening that a rule asks for on a printer. `cache` keeps the blue-noise tile.

    `curves`: by plane, (256,) float64, the amount of ink for each tone, rising from 0 to 1; straight where there is none.
    SettingsError if the printer has three drop sizes and the printer file does not say how large they are.
    """
    amounts = {plane: (curves or {}).get(plane, _STRAIGHT) for plane in printer.planes}
    return Screening(
        **vars(film_screen_for(rule, printer=printer, cache=cache)),
        inks={
            plane: _ink(rule.halftone.inks, plane, printer=printer, cache=cache, amounts=curve)
            for plane, curve in amounts.items()
        },
        tones={plane: np.rint(255 * curve).astype(np.uint8) for plane, curve in amounts.items()},
    )


def spreads_on(garment: str) -> bool:
    """Whether islands on a garment ("#rrggbb") go beyond their white: on a dark one, where ink without white is not seen.

    There coverage is that of the white, and a choke would darken every tone. On a light garment a rim of ink is seen as ink.
    """
    return bool(lab_from_xyz(xyz_of_hex(garment))[0] < _DARK_L)


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


def _coverage(rule: Rule, printer: Printer, cache: Path) -> Onsets:
    """The coverage's screen, of which no dot or hole is smaller than the least. Those of blue noise are blocks."""
    screen, resolution = rule.halftone.coverage, printer.resolution
    dot, hole = (_in_dots(length, resolution) for length in (rule.halftone.least_dot, rule.halftone.least_hole))
    if spreads_on(rule.garment):  # what is screened is the white: smaller than its film all round, its holes larger
        rim = _at_least_a_dot(_in_dots(2 * rule.underbase.island_choke, resolution))
        dot = max(dot[0] - rim[0], 0.0), max(dot[1] - rim[1], 0.0)
        hole = hole[0] + rim[0], hole[1] + rim[1]
    if screen.screen is ScreenKind.AM:
        return am_onsets(screen, resolution=resolution, least=Least(dot, hole))
    across, down = (max(1, math.ceil(max(pair) - _SLACK)) for pair in zip(dot, hole, strict=True))
    return blue_noise_onsets(cache, block=(across, down))


def _ink(screen: InkScreen, plane: str, *, printer: Printer, cache: Path, amounts: Floats) -> tuple[Tile, ...] | Diffusion:
    """A plane's own screen, so that no two planes' dots fall together more often than by chance.

    A tile a drop size: an amount is the share of the largest drop's volume, so its mean volume is what it says. Between two
    sizes' volumes an amount is made of those two; below the smallest, of the smallest and none.
    """
    sizes, place = drop_sizes(printer, plane), 1 + printer.planes.index(plane)
    if screen.screen is ScreenKind.ERROR_DIFFUSION:
        return Diffusion(screen.kernel, screen.serpentine, amounts, sizes, seed=place)
    if screen.screen is ScreenKind.AM:
        turned = screen.model_copy(update={"angle": _angle(screen, plane)})
        onsets = am_onsets(turned, resolution=printer.resolution)
    else:
        down, across = _SHIFT
        onsets = np.roll(_blue_noise(cache), (down * place, across * place), axis=(0, 1))
    steps = zip((0.0, *sizes), sizes, strict=False)
    return tuple(thresholds(onsets, curve=amounts, start=start, full=full) for start, full in steps)


def _angle(screen: InkScreen, plane: str) -> float:
    """Degrees of a plane's AM screen: the rule's own for that ink, else turned from the rule's angle by the usual steps."""
    if plane == HIGHLIGHT:
        return (_angle(screen, Ink.WHITE) + _HIGHLIGHT_TURN) % 180
    own = screen.angles.of(Ink(plane))
    return (screen.angle + _AM_TURNS[Ink(plane)]) % 180 if own is None else own


@lru_cache(maxsize=2)
def _blue_noise(cache: Path) -> Onsets:
    return blue_noise_onsets(cache)


def _at_least_a_dot(choke_px: tuple[float, float]) -> tuple[float, float]:
    """A choke of half a dot or more takes one: a smaller radius than the dots' pitch would reach no neighbour, and take none."""
    across, down = choke_px
    return (max(across, 1.0), max(down, 1.0)) if min(across, down) >= 0.5 else choke_px  # noqa: PLR2004


def _in_dots(length_mm: float, resolution: tuple[int, int]) -> tuple[float, float]:
    across, down = resolution
    return units.mm_to_px(length_mm, across), units.mm_to_px(length_mm, down)
