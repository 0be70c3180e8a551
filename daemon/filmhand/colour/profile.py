"""An ink model behind a CMYK output profile (ICC.1:2010, device class 'prtr'), evaluated by LittleCMS."""

import hashlib
import io
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray
from PIL import ImageCms

from filmhand.colour import nominal
from filmhand.colour.cielab import D50_WHITE
from filmhand.colour.expense import Expense
from filmhand.colour.inverse.inverse import Inverse
from filmhand.colour.inverse.printable import Printable
from filmhand.colour.inverse.settle import Nodes
from filmhand.colour.littlecms import XYZ_PROFILE, Space, Way
from filmhand.colour.opacity import NOMINAL, Opacity
from filmhand.rules import BlackGeneration, ColourRules, Ink, Intent

Floats = NDArray[np.float64]

_STEPS: Final = 17
"""Steps of each ink at which the profile is asked once for the exact inverse."""
CMYK: Final[tuple[str, ...]] = (Ink.CYAN, Ink.MAGENTA, Ink.YELLOW, Ink.BLACK)


@dataclass(frozen=True, eq=False)
class ProfileModel:
    """An `InkModel` of C, M, Y and K. `icc`: the profile's bytes; film white is its white (media-relative)."""

    icc: bytes
    inks: tuple[str, ...] = CMYK
    yule_nielsen: float = nominal.YULE_NIELSEN
    """A profile says nothing of how film and garment mix; the nominal factor stands in."""
    is_nominal: bool = False
    opacity: Opacity = NOMINAL
    """A profile says nothing of how white hides a garment; nominal white stands in."""
    expense: Expense | None = None
    """What the inks cost beside one another; None: all the same."""

    @cached_property
    def film_white(self) -> Floats:
        """The profile's media white point (ICC.1:2010 section 9.2.36)."""
        stated = ImageCms.getOpenProfile(io.BytesIO(self.icc)).profile.media_white_point
        return D50_WHITE if stated is None else np.array(stated[0], np.float64)

    @cached_property
    def digest(self) -> str:
        """SHA-256 of the profile, the factor, the expense and the white."""
        beside = f"profile {self.yule_nielsen!r} {self.expense!r} {self.opacity.digest}"
        return hashlib.sha256(beside.encode() + self.icc).hexdigest()

    @cached_property
    def colours_digest(self) -> str:
        """SHA-256 of the profile and the factor."""
        return hashlib.sha256(f"profile {self.yule_nielsen!r}".encode() + self.icc).hexdigest()

    def xyz(self, inks: Floats) -> Floats:
        """XYZ (..., 3) of C, M, Y, K (..., 4), 0 to 1, by the profile's A2B table for relative colorimetry."""
        return Way((self.icc, Space.CMYK), (XYZ_PROFILE, Space.XYZ), Intent.RELATIVE, bpc=False)(inks)

    def inks_for(self, xyz: Floats, rules: ColourRules) -> Floats:
        """C, M, Y, K (..., 4) for XYZ (..., 3), by the profile's B2A table for the rule's intent.

        Black point compensation, where the rule wants it, is LittleCMS's own, from a source black of 0. Black generation is
        the profile's: the rule's has no say. Where the table's inks pass the rule's limit, the nearest colour within it is
        sought, with K near the table's: more black for less of the three colours.
        """
        way = Way((XYZ_PROFILE, Space.XYZ), (self.icc, Space.CMYK), rules.intent, bpc=rules.black_point_compensation)
        inks = np.clip(way(xyz), 0, 1)
        limit = rules.ink_limit / 100
        over = inks.sum(axis=-1) > limit
        inks[over] = self._inverse.exact(self.xyz(inks[over]), rules, start=inks[over])
        return inks

    def exact_inks_for(self, xyz: Floats, rules: ColourRules) -> Floats:
        """C, M, Y, K (..., 4) whose A2B colour is XYZ (..., 3), with K near that of the relative B2A table; else the nearest.

        A B2A table alone is too rough for it: on the way back through A2B it is off by some ΔE00.
        """
        way = Way((XYZ_PROFILE, Space.XYZ), (self.icc, Space.CMYK), Intent.RELATIVE, bpc=False)
        return self._inverse.exact(xyz, rules, start=np.clip(way(xyz), 0, 1))

    def settled(self, inks: Floats, nodes: Nodes, rules: ColourRules) -> Floats:
        """Ink amounts (r, g, b, k) of `nodes`, the tolerance of least ink spent on them; otherwise the profile's own stay."""
        return self._inverse.settled(inks, nodes, rules) if rules.black is BlackGeneration.LEAST_INK else inks

    @cached_property
    def _inverse(self) -> Inverse:
        printable = Printable.of(self.xyz, inks=self.inks, n=self.yule_nielsen, steps=_STEPS)
        return Inverse(printable, self.expense or Expense.even(len(self.inks)))
