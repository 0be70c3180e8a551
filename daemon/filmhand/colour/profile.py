"""An ink model behind a CMYK output profile (ICC.1:2010, device class 'prtr'), evaluated by LittleCMS."""

import hashlib
from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour import nominal
from filmhand.colour.littlecms import XYZ_PROFILE, Space, Way
from filmhand.rules import ColourRules, Ink, Intent

Floats = NDArray[np.float64]

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
        the profile's: the rule's has no say. Ink over the limit is taken from C, M and Y alike, K stays (common practice,
        no source).
        """
        bpc = rules.black_point_compensation
        way = Way((XYZ_PROFILE, Space.XYZ), (self.icc, Space.CMYK), rules.intent, bpc=bpc)
        return _limited(np.clip(way(xyz), 0, 1), rules.ink_limit / 100)


def _limited(inks: Floats, limit: float) -> Floats:
    """The inks with C, M and Y scaled so that all four together keep the limit."""
    black = np.minimum(inks[..., 3:], limit)
    colours = inks[..., :3].sum(axis=-1, keepdims=True)
    share = np.minimum(1, (limit - black) / np.maximum(colours, 1e-12))
    return np.concatenate([inks[..., :3] * share, black], axis=-1)
