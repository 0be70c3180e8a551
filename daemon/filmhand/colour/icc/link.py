"""Inks by a device link (ICC.1:2010 section 8.6): from RGB straight to C, M, Y and K, as whoever made it wants them.

A link says nothing of how the inks look, so it stands beside an ink model, never in its place: the model shows what the link's
inks look like, and finds others where they pass the ink limit.
"""

import hashlib
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.icc import file
from filmhand.colour.icc.curves import plain_curves
from filmhand.colour.icc.header import LINK
from filmhand.colour.icc.lut import TOP, Lut
from filmhand.colour.littlecms import Space, Way
from filmhand.colour.model import InkModel
from filmhand.rules import ColourRules, Ink, Intent

Floats = NDArray[np.float64]

_CMYK: Final = (Ink.CYAN, Ink.MAGENTA, Ink.YELLOW, Ink.BLACK)


@dataclass(frozen=True, eq=False)
class DeviceLink:
    """`icc`: a profile of class 'link' from RGB to CMYK."""

    icc: bytes

    @cached_property
    def digest(self) -> str:
        """SHA-256 of the link."""
        return hashlib.sha256(self.icc).hexdigest()

    def cmyk(self, rgb: NDArray[np.uint8]) -> Floats:
        """C, M, Y and K (..., 4), 0 to 1, of RGB (..., 3), 0 to 255. UnusableProfileError (littlecms.py) if it cannot be used."""
        way = Way((self.icc, Space.RGB), (_unchanged_cmyk(), Space.CMYK), Intent.RELATIVE, bpc=False)
        return np.clip(way(rgb / 255.0), 0, 1)

    def inks_for(self, rgb: NDArray[np.uint8], *, model: InkModel, rules: ColourRules) -> Floats:
        """Inks (..., k) in the model's order for RGB (..., 3), 0 to 255; inks that the link does not know are 0.

        Where the link's inks pass the rule's limit, the model's for the same colour within it.
        """
        cmyk = self.cmyk(rgb)
        inks = np.zeros((*cmyk.shape[:-1], len(model.inks)))
        inks[..., [model.inks.index(ink) for ink in _CMYK]] = cmyk
        over = inks.sum(axis=-1) > rules.ink_limit / 100
        inks[over] = model.exact_inks_for(model.xyz(inks[over]), rules)
        return inks


def _unchanged_cmyk() -> bytes:
    """A link that leaves C, M, Y and K what they are: imagecodecs asks LittleCMS for ways between two profiles only."""
    ends = np.array([0, TOP], np.uint16)
    nodes = np.stack(np.meshgrid(*[ends] * len(_CMYK), indexing="ij"), axis=-1)
    table = Lut(plain_curves(len(_CMYK)), nodes, plain_curves(len(_CMYK)))
    header = file.Header(LINK, b"CMYK", b"CMYK", Intent.RELATIVE, datetime(2000, 1, 1, tzinfo=UTC))
    return file.profile(header, {b"desc": file.text("unchanged"), b"cprt": file.text("none"), b"A2B0": table.from_device()})
