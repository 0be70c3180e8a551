"""Separation by a device link: from an artwork's values to those that the link is made for, and on to its inks."""

import hashlib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.icc.link import DeviceLink
from filmhand.colour.model import InkModel
from filmhand.colour.source import value_in
from filmhand.rules import ColourRules

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Linked:
    """`made_for`: the RGB profile (None: sRGB) of the values that the link takes."""

    link: DeviceLink
    made_for: bytes | None = None

    @property
    def digest(self) -> str:
        """SHA-256 of both."""
        made_for = b"sRGB" if self.made_for is None else self.made_for
        return hashlib.sha256(self.link.digest.encode() + made_for).hexdigest()

    def inks_for(self, rgb: NDArray[np.uint8], *, profile: bytes | None, model: InkModel, rules: ColourRules) -> Floats:
        """The link's inks (m, k), in the model's order, within the rule's limit, for values (m, 3) of a profile (None: sRGB)."""
        return self.link.inks_for(value_in(rgb, source=profile, to=self.made_for), model=model, rules=rules)
