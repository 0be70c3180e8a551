"""Colours that customers order by name: `colours.toml` of a shop, and the inks that come nearest to each.

    ["club red"]
    also = ["red no. 1"]
    lab = [47.2, 68.1, 40.3]        # as measured, or as its owner states it: D50, 2° observer
    srgb = "#c4152b"                # artwork in exactly this colour means it

A brand's colour is absolute: where film white is not perfectly white, the colour must not be tinted with it. So it is held
against what an instrument would measure of the print.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated, Final, Self

import numpy as np
from numpy.typing import NDArray
from pydantic import Field, model_validator

from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import D50_WHITE, lab_from_xyz, xyz_from_lab
from filmhand.colour.measured.spectra import even_spectra, xyz_of_spectra
from filmhand.colour.measured.unusable import UnusableChartError
from filmhand.colour.model import InkModel
from filmhand.colour.sectors import sectors
from filmhand.colour.source import value_of_srgb
from filmhand.rule_values import Hex, Unit, Worded
from filmhand.rules import ColourRules

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float64]

_FIRST_STEP: Final = 1 / 8
_LAST_STEP: Final = 1 / 4096


class NamedColour(Worded):
    """A colour that has a name, under it in brackets: `["club red"]`. Either `lab` or `reflectance` says which it is."""

    also: tuple[str, ...] = ()
    """Other words for the same, such as a PDF's spot colour's name."""
    lab: tuple[Annotated[float, Field(ge=0, le=100)], float, float] | None = None
    """CIELAB, D50, 2° observer, relative to the perfect diffuser, as instruments say it."""
    reflectance: tuple[Annotated[float, Field(ge=0), Unit("%")], ...] | None = None
    """Reflectances, evenly over `wavelengths`; at most 20 nm apart."""
    wavelengths: tuple[Annotated[float, Unit("nm")], Annotated[float, Unit("nm")]] = (400, 700)
    """The first and the last wavelength of `reflectance`."""
    srgb: Hex | None = None
    """Artwork in exactly this colour means the named one."""

    @model_validator(mode="after")
    def _one_colour(self) -> Self:
        if (self.lab is None) == (self.reflectance is None):
            raise ValueError("expected either lab = [L, a, b] or reflectance = [...]: which colour it is")
        try:
            self.absolute_lab()
        except UnusableChartError as problem:
            raise ValueError(f"expected reflectances from 400 nm to 700 nm or further: {problem.what}") from None
        return self

    def absolute_lab(self) -> Floats:
        """CIELAB (3,), relative to the perfect diffuser."""
        if self.reflectance is None:
            return np.array(self.lab, np.float64)
        values = np.array([self.reflectance], np.float64) / 100
        return np.asarray(lab_from_xyz(xyz_of_spectra(even_spectra(np.linspace(*self.wavelengths, values.size), values)))[0])


@dataclass(frozen=True)
class NamedMatch:
    """The best that a printer can do. `inks` (k,), 0 to 1, in the model's order; `delta_e`: ΔE00 from the colour wanted."""

    inks: Floats
    delta_e: float


def over_film(lab: Floats, film_white: Floats) -> Floats:
    """CIELAB (..., 3) as ink models say it, relative to film white, of CIELAB relative to the perfect diffuser.

    `film_white`: XYZ (3,) of bare white on film, Y 1 = perfect diffuser. Scaling by ICC.1:2010 section 6.3.2.2.
    """
    return lab_from_xyz(xyz_from_lab(lab) * D50_WHITE / film_white)


def best_inks(lab: Floats, *, model: InkModel, rules: ColourRules) -> NamedMatch:
    """The inks within the rule's limit whose colour is nearest by ΔE00 to a colour: CIELAB (3,) relative to film white.

    The model's own answer keeps hue rather than ΔE00, which no named colour asks for. From it a compass search goes on (Kolda,
    Lewis and Torczon 2003, "Optimization by direct search"), in every sector that has the answer's inks.
    """
    start = np.clip(model.exact_inks_for(xyz_from_lab(lab)[None], rules)[0], 0, 1)
    used = {ink for ink, amount in zip(model.inks, start, strict=True) if amount > 0}
    fitting = [places for places in map(set, sectors(model.inks)) if used <= places] or [used]
    matches = [_searched(lab, start, _ways(model.inks, places), model=model, limit=rules.ink_limit / 100) for places in fitting]
    return min(matches, key=lambda match: match.delta_e)


def values_meaning(colours: Mapping[str, NamedColour], *, profile: bytes | None) -> tuple[tuple[str, ...], Bytes]:
    """The names of colours that have an `srgb`, and the values (n, 3) of artwork in a profile (None: sRGB) that mean each.

    In a profile a name has up to eight values, as programs that convert to it round differently. Of colours with the same value,
    the first counts.
    """
    named = {name: colour for name, colour in colours.items() if colour.srgb is not None}
    shown = [bytes.fromhex(str(colour.srgb).removeprefix("#")) for colour in named.values()]
    exact = value_of_srgb(np.frombuffer(b"".join(shown), np.uint8).reshape(-1, 3), profile=profile)
    is_up = np.indices((2, 2, 2)).reshape(3, -1).T
    values = np.where(is_up, np.ceil(exact)[:, None], np.floor(exact)[:, None]).reshape(-1, 3).astype(np.uint8)
    _, first = np.unique(values, axis=0, return_index=True)
    kept = sorted(int(i) for i in first)
    return tuple(list(named)[i // len(is_up)] for i in kept), values[kept]


def _ways(inks: tuple[str, ...], places: set[str]) -> Floats:
    """Directions (d, k) to try: more or less of each of some inks, and more of one for less of another."""
    single = [np.array([1.0 * (ink == one) for ink in inks]) for one in inks if one in places]
    exchanged = [more - less for more in single for less in single if more is not less]
    return np.array([*single, *(-way for way in single), *exchanged])


def _searched(lab: Floats, start: Floats, ways: Floats, *, model: InkModel, limit: float) -> NamedMatch:
    """The end of a search: the best step in any direction while there is one, then half as long steps."""
    best, off = start, float(difference(lab, lab_from_xyz(model.xyz(start[None]))[0]))
    step = _FIRST_STEP
    while step >= _LAST_STEP:
        tried = np.clip(best + step * ways, 0, 1)
        tried *= np.minimum(1, limit / np.maximum(tried.sum(axis=1, keepdims=True), 1e-12))
        offs = difference(lab, lab_from_xyz(model.xyz(tried)))
        nearest = int(np.argmin(offs))
        if offs[nearest] < off:
            best, off = tried[nearest], float(offs[nearest])
        else:
            step /= 2
    return NamedMatch(best, off)
