"""An ink model behind a CMYK output profile (ICC.1:2010, device class 'prtr'), evaluated by LittleCMS."""

import hashlib
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour import nominal
from filmhand.colour.inverse import Printable, nearest_inks
from filmhand.colour.littlecms import XYZ_PROFILE, Space, Way
from filmhand.rules import ColourRules, Ink, Intent

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

    @cached_property
    def digest(self) -> str:
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
        inks[over] = self._nearest(self.xyz(inks[over]), inks[over], limit)
        return inks

    def exact_inks_for(self, xyz: Floats, rules: ColourRules) -> Floats:
        """C, M, Y, K (..., 4) whose A2B colour is XYZ (..., 3), with K near that of the relative B2A table; else the nearest.

        A B2A table alone is too rough for it: on the way back through A2B it is off by some ΔE00.
        """
        flat = np.ascontiguousarray(xyz.reshape(-1, 3))
        way = Way((XYZ_PROFILE, Space.XYZ), (self.icc, Space.CMYK), Intent.RELATIVE, bpc=False)
        guess = np.clip(way(flat), 0, 1)
        return self._nearest(flat, guess, rules.ink_limit / 100).reshape(*xyz.shape[:-1], 4)

    def _nearest(self, xyz: Floats, guess: Floats, limit: float) -> Floats:
        """The inks (m, 4) within the limit that come nearest to colours (m, 3), from a guess (m, 4) whose K they shall keep."""
        total = guess.sum(axis=-1, keepdims=True)
        start = guess * np.minimum(1, limit / np.maximum(total, 1e-12))
        printable = Printable(self._colours, self.yule_nielsen, limit)
        return nearest_inks(xyz, printable, black=np.ascontiguousarray(guess[:, 3]), start=start)

    @cached_property
    def _colours(self) -> Floats:
        """XYZ (N^4, 3) over even steps of the inks, C running fastest."""
        steps = np.linspace(0, 1, _STEPS)
        k, y, m, c = np.meshgrid(steps, steps, steps, steps, indexing="ij")
        return self.xyz(np.stack([c, m, y, k], axis=-1).reshape(-1, 4))
