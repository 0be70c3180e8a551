"""An ink model as an ICC output profile (ICC.1:2010 section 8.5.2): so that other programs know the printer as filmhand does.

C, M, Y and K make a CMYK profile; other inks one of as many colorants ('5CLR' and so on), named, in the model's order. The table
for relative colorimetry is the model itself, over film white. Those for perceptual and saturation have the black of ICC's
perceptual reference medium, as version 4 wants it: black point compensation is in them.

Tables are lutAToBType and lutBToAType, which LittleCMS reads for up to nine inks as we do to 0.01 in 100 (measured); each ink may
have its own number of nodes.
"""

from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.black_point import compensated
from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import lab_from_xyz, xyz_from_lab
from filmhand.colour.icc import file
from filmhand.colour.icc.curves import (
    backwards,
    forwards,
    ink_curves,
    inverse_curves,
    lab_axes,
    lab_curves,
    never_more,
    plain_curves,
)
from filmhand.colour.icc.lut import Lut, Words, words
from filmhand.colour.inverse.settle import Nodes
from filmhand.colour.model import InkModel, darkest_gray
from filmhand.rules import WHITE, ColourRules, Ink, Intent

Floats = NDArray[np.float64]

REFERENCE_BLACK: Final[Floats] = np.array([0.00336, 0.0034731, 0.00287])
"""XYZ of the perceptual reference medium's black (ICC.1:2010 section 6.3.4.3; LittleCMS takes every such table to have it)."""

_SPACES: Final = {"CMYK": b"CMYK", "CMY": b"CMY "}
_INK_NODES: Final = {3: 33, 4: 17, 5: 11, 6: 8, 7: 6, 8: 5}
"""Nodes of each ink, by their number: tables of at most 2.4 megabytes."""
_WHITE_NODES: Final = 2
_LAB_NODES: Final = 33
_IN_GAMUT: Final = 1.0
"""ΔE00 up to which a colour counts as printable."""
_GAMUT_SCALE: Final = 100.0
"""ΔE00 beyond it that is written as 1."""
_AT_ONCE: Final = 4096


@dataclass(frozen=True)
class About:
    """What a profile says of itself. `film_white`: XYZ (3,) of bare white on film, D50, Y 1 = perfect white diffuser."""

    description: str
    film_white: Floats
    created: datetime
    copyright: str = "Made from the shop's own measurements"


def output_profile(model: InkModel, rules: ColourRules, *, about: About, with_white: bool = False) -> bytes:
    """The profile of a model's inks, with limit, black and intent by the rules.

    `with_white`: white ink is a further, last colorant. It is full under every colour, and a lower amount changes no colour.
    """
    tables = Tables(model, rules, with_white)
    tags = {b"desc": file.text(about.description), b"cprt": file.text(about.copyright), b"wtpt": file.xyz(about.film_white)}
    for number, intent in enumerate((Intent.PERCEPTUAL, Intent.RELATIVE, Intent.SATURATION)):
        tags[b"A2B%d" % number] = tables.to_colour(intent).from_device()
        tags[b"B2A%d" % number] = tables.to_inks(intent).to_device()
    tags[b"gamt"] = tables.gamut().to_device()
    if tables.space not in _SPACES.values():
        tags[b"clrt"] = file.colorants([Ink(ink).name.capitalize() for ink in tables.inks], tables.full_inks())
    return file.profile(file.Header(b"prtr", tables.space, b"Lab ", rules.intent, about.created), tags)


@dataclass(frozen=True)
class Tables:
    """The tables of a model's profile."""

    model: InkModel
    rules: ColourRules
    with_white: bool

    @cached_property
    def colours(self) -> tuple[str, ...]:
        """The colour inks in the profile's order."""
        given = self.model.inks
        usual = next((order for order in _SPACES if set(order) == set(given)), None)
        return tuple(usual) if usual is not None and not self.with_white else given

    @cached_property
    def inks(self) -> tuple[str, ...]:
        return (*self.colours, WHITE) if self.with_white else self.colours

    @cached_property
    def space(self) -> bytes:
        """The colour space's signature (ICC.1:2010 section 7.2.6)."""
        return _SPACES.get("".join(self.inks), b"%dCLR" % len(self.inks))

    def to_colour(self, intent: Intent) -> Lut:
        """From inks to CIELAB."""
        xyz = self._printed
        if intent is not Intent.RELATIVE:
            xyz = compensated(xyz, black=self._darkest, to=REFERENCE_BLACK)
        nodes = words(file.encoded_lab(lab_from_xyz(xyz)))
        if self.with_white:
            nodes = np.repeat(nodes[..., None, :], _WHITE_NODES, axis=-2)
        return Lut(self._curves, nodes, plain_curves(3))

    def to_inks(self, intent: Intent) -> Lut:
        """From CIELAB to inks."""
        with_black = intent is not Intent.RELATIVE
        xyz = xyz_from_lab(self._lab)
        if with_black:
            xyz = compensated(xyz, black=REFERENCE_BLACK, to=np.zeros(3))
        rules = self.rules.model_copy(update={"intent": intent, "black_point_compensation": with_black})
        grid = Nodes(lab_axes(_LAB_NODES), np.ones(xyz.shape[:-1], np.bool_))
        inks = self.model.settled(self.model.inks_for(np.maximum(xyz, 0), rules), grid, rules)[..., self._columns]
        inks[-1, _LAB_NODES // 2, _LAB_NODES // 2] = 0  # white is bare white, whatever the rounding
        if self.with_white:
            inks = np.concatenate([inks, np.ones((*inks.shape[:-1], 1))], axis=-1)
        curves = never_more(self._curves)
        nodes = words(forwards(inks.reshape(-1, inks.shape[-1]), curves)).reshape(inks.shape)
        return Lut(lab_curves(), nodes, inverse_curves(curves))

    def gamut(self) -> Lut:
        """From CIELAB to 0 for what can be printed, and more the further a colour is off."""
        xyz = np.maximum(xyz_from_lab(self._lab), 0)
        printed = self.model.xyz(self.model.exact_inks_for(xyz, self.rules))
        off = difference(self._lab, lab_from_xyz(printed))[..., None]
        return Lut(lab_curves(), words((off - _IN_GAMUT) / _GAMUT_SCALE), plain_curves(1))

    def full_inks(self) -> Floats:
        """CIELAB (n, 3) of each ink in full; that of white ink is white."""
        return lab_from_xyz(self._xyz(np.eye(len(self.inks), len(self.colours))))

    def _xyz(self, inks: Floats) -> Floats:
        """XYZ (m, 3) of colour inks (m, k) in the profile's order."""
        amounts = np.zeros_like(inks)
        amounts[:, self._columns] = inks
        parts = [self.model.xyz(amounts[start : start + _AT_ONCE]) for start in range(0, len(amounts), _AT_ONCE)]
        return np.concatenate(parts)

    @cached_property
    def _printed(self) -> Floats:
        """XYZ (n, …, 3) of the nodes of tables that begin with inks, white ink apart."""
        count = len(self.colours)
        steps = np.linspace(0, 1, _INK_NODES[count])
        places = np.stack(np.meshgrid(*[steps] * count, indexing="ij"), axis=-1)
        xyz = self._xyz(backwards(places.reshape(-1, count), self._curves[:count]))
        return xyz.reshape(*places.shape[:-1], 3)

    @cached_property
    def _columns(self) -> list[int]:
        return [self.model.inks.index(ink) for ink in self.colours]

    @cached_property
    def _curves(self) -> Words:
        curves = ink_curves(self.model)[self._columns]
        even = words(np.linspace(0, 1, curves.shape[1]))[None]
        return np.concatenate([curves, even]) if self.with_white else curves

    @cached_property
    def _darkest(self) -> Floats:
        """XYZ (3,) of the darkest gray, on which perceptual tables lay black."""
        return darkest_gray(self.model, self.rules)

    @cached_property
    def _lab(self) -> Floats:
        """CIELAB (n, n, n, 3) of the nodes of tables that begin with it."""
        return np.stack(np.meshgrid(*lab_axes(_LAB_NODES), indexing="ij"), axis=-1)
