"""Figures of the gamut beside sRGB's, in CIELAB over film white: seen from above, and cut at three lightnesses."""

from collections.abc import Iterator
from typing import Final, NamedTuple

import numpy as np
from markupsafe import Markup
from numpy.typing import NDArray

from filmhand.colour import srgb
from filmhand.colour.cielab import lab_from_xyz, xyz_from_lab
from filmhand.colour.gamut_boundary import GamutBoundary, enclosing
from filmhand.colour.gamut_surface import surface
from filmhand.colour.model import InkModel
from filmhand.colour.report.look import hexes
from filmhand.colour.report.plot import Axis, Plot
from filmhand.colour.sectors import sectors

Floats = NDArray[np.float64]

_SECTIONS: Final = (75.0, 50.0, 25.0)
_SQUARE: Final = (352.0, 352.0)
_STEP_DEG: Final = 3
_TURN: Final = 360.0


class Reach(NamedTuple):
    """`share`: of all sRGB colours, by volume in CIELAB, that can be printed, 0 to 1. `volume`: of the print's own gamut, cubic
    CIELAB units. `darkest`: L* of its darkest gray. `from_above` and `sections` (title, figure)."""

    share: float
    volume: float
    darkest: float
    from_above: Markup
    sections: tuple[tuple[str, Markup], ...]


def reach(model: InkModel, *, ink_limit: float) -> Reach:
    """What can be printed within an ink limit, 1 = one full ink."""
    ours, screens = printable_in_lab(model, ink_limit=ink_limit), srgb_in_lab()
    hue = np.arange(0.0, _TURN, _STEP_DEG)
    above = _figure(
        _polar(hue, _cusps(ours, hue)[:, 1]),
        _polar(hue, _cusps(screens, hue)[:, 1]),
        _cusps(ours, hue)[:, 0],
        "The gamut from above: most chroma of each hue, printed (coloured line) and in sRGB (dashed)",
    )
    return Reach(share_of(screens, covered_by=ours), ours.volume, ours.darkest, above, tuple(_sections(ours, screens, hue)))


def printable_in_lab(model: InkModel, *, ink_limit: float) -> GamutBoundary:
    """The boundary, in CIELAB, of what the inks can print."""
    places = [[model.inks.index(ink) for ink in sector] for sector in sectors(model.inks)]
    amounts, triangles = surface(places, inks=len(model.inks), limit=ink_limit)
    return enclosing(lab_from_xyz(model.xyz(amounts)), triangles)


def srgb_in_lab() -> GamutBoundary:
    """The boundary, in CIELAB, of sRGB, its white on film white."""
    rgb, triangles = surface([(0, 1, 2)], inks=3, limit=3.0)
    return enclosing(lab_from_xyz(srgb.decode(rgb) @ srgb.TO_XYZ.T), triangles)


def share_of(gamut: GamutBoundary, *, covered_by: GamutBoundary) -> float:
    """The share of a gamut's volume that lies in the other, 0 to 1."""
    L, h = np.meshgrid(np.linspace(0, 100, 401), np.arange(_TURN), indexing="ij")
    whole, other = gamut.most_chroma(L, h), covered_by.most_chroma(L, h)
    return float(np.square(np.minimum(whole, other)).sum() / np.square(whole).sum())


def _sections(ours: GamutBoundary, screens: GamutBoundary, hue: Floats) -> Iterator[tuple[str, Markup]]:
    for lightness in _SECTIONS:
        at = np.full(len(hue), lightness)
        printed, shown = ours.most_chroma(at, hue), screens.most_chroma(at, hue)
        title = f"L* {lightness:.0f}"
        yield title, _figure(_polar(hue, printed), _polar(hue, shown), at, f"The gamut cut at {title}")


def _figure(printed: Floats, shown: Floats, lightness: Floats, title: str) -> Markup:
    """Two outlines (m, 2) over a* and b*; the printed one in its own colours."""
    (a, b), (other_a, other_b) = printed.T, np.concatenate([shown, shown[:1]]).T
    ticks = (-100.0, -50.0, 0.0, 50.0, 100.0)
    plot = Plot(Axis(-115, 115, ticks, "a*: green to red"), Axis(-115, 115, ticks, "b*: blue to yellow"), _SQUARE)
    colours = hexes(xyz_from_lab(np.column_stack([lightness, printed])))
    parts = [
        plot.area(a, b, "inside"),
        plot.coloured(a, b, colours),
        plot.line(other_a, other_b, "other"),
    ]
    return plot.svg(parts, title=title)


def _cusps(gamut: GamutBoundary, hue: Floats) -> Floats:
    """Lightness and chroma (m, 2) of the strongest colours of hues (m,), degrees."""
    return gamut.cusps[np.rint(hue / gamut.hue_step).astype(np.intp)]


def _polar(hue: Floats, chroma: Floats) -> Floats:
    return np.stack([chroma * np.cos(np.radians(hue)), chroma * np.sin(np.radians(hue))], axis=1)
