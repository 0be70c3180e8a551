"""How white ink of any amount looks over a garment, and colour over thin white.

Between none and full, white is laid as solid dots with bare ground between (their share mixes by Yule and Nielsen), as a thinner
layer (Kubelka and Munk), or first the one and, once the dots have closed up, the other. `closes_at` says where: 1 is dots all the
way, 0 a layer all the way. A printed wedge decides (opacity_fit.py).
"""

import hashlib
import math
from dataclasses import asdict, dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour import kubelka_munk
from filmhand.colour.cielab import D50_WHITE
from filmhand.colour.neugebauer import between

Floats = NDArray[np.float64]

_MOST_LAYERS: Final = 20.0
"""White beyond this many full layers is not sought."""
_FINE: Final = 1e-9


@dataclass(frozen=True, eq=False)
class Opacity:
    """White ink on grounds: R∞ and SX of the full layer in X, Y and Z, each over the perfect diffuser's.

    `infinite`, `scatter`: (3,). `chart_ground`: XYZ (3,), absolute (Y 1 = perfect diffuser), of what the shop's charts lie on, so
    that full white over it is the film white that ink models call 1. `amounts`, `volumes`: (m,), both rising from 0 to 1: white
    as sent to the printer, and the share of full white that it comes to; above 1, further full layers.
    """

    infinite: Floats
    scatter: Floats
    chart_ground: Floats
    closes_at: float = 1.0
    yule_nielsen: float = 1.0
    amounts: tuple[float, ...] = (0.0, 1.0)
    volumes: tuple[float, ...] = (0.0, 1.0)

    def white(self, amount: float, *, garment: Floats) -> Floats:
        """XYZ (..., 3) of white of an amount (0 none, 1 full, 2 two layers) over a garment's XYZ (..., 3), both absolute."""
        volume = float(self.volume_for(amount)) if amount <= 1 else amount
        area, thickness = laid(volume, self.closes_at)
        ground = garment / D50_WHITE
        solid = kubelka_munk.layer(ground, infinite=self.infinite, scatter=self.scatter * thickness)
        return np.asarray(between(ground, solid, area, n=self.yule_nielsen) * D50_WHITE)

    def over_garment(self, film_xyz: Floats, garment_xyz: Floats, *, density: float) -> Floats:
        """XYZ (..., 3) of a colour printed over white of a density (as `amount` of `white`) over a garment.

        All relative to film white, as ink models have it: `film_xyz` (..., 3), the colour over full white, and `garment_xyz`.
        Approximation: ink is a clear filter that takes the same share of each of X, Y and Z from whatever lies under it. So the
        white's own change is the colour's. Exact for bare film, and for full density on the charts' ground; pigments that
        scatter light of their own (yellow, white in mixed inks) look lighter on a dark garment than this says.
        """
        full = self.film_white
        under = self.white(density, garment=garment_xyz / D50_WHITE * full)
        return np.asarray(film_xyz * under / full)

    def share(self, volume: Floats | float, *, garment: Floats) -> Floats:
        """What a film on a garment keeps of its colour over full white on the charts' ground: a factor (..., 3) for X, Y and Z.

        `volume`: share (...) of full white that lies under it, 1 one layer, 2 two. `garment`: XYZ (3,) relative to film white.
        By the same approximation as `over_garment`; it does not depend on the colour, so it may be taken to any power with it.
        """
        full = self.film_white
        area, thickness = laid(np.asarray(volume, np.float64)[..., None], self.closes_at)
        ground = garment / D50_WHITE * full / D50_WHITE
        solid = kubelka_munk.layer(ground, infinite=self.infinite, scatter=self.scatter * thickness)
        return np.asarray(between(ground, solid, area, n=self.yule_nielsen) * D50_WHITE / full)

    def volume_for(self, amount: NDArray[np.floating] | float) -> Floats:
        """The share (...) of one full layer that amounts (...), 0 to 1, come to, as the wedge showed."""
        return np.asarray(np.interp(amount, self.amounts, self.volumes))

    @cached_property
    def digest(self) -> str:
        """SHA-256 of all numbers."""
        return hashlib.sha256(repr([np.asarray(value).tolist() for value in asdict(self).values()]).encode()).hexdigest()

    @cached_property
    def film_white(self) -> Floats:
        """XYZ (3,), absolute, of full white on the ground of the charts."""
        return self.white(1.0, garment=self.chart_ground)

    def contrast_ratio(self, amount: float, *, black: float = 0.0, white: float = 0.8) -> float:
        """Y over a black ground by Y over a white one (ISO 6504-3), whose Y are given: 1 hides the ground wholly."""
        dark, light = (float(self.white(amount, garment=y * D50_WHITE)[1]) for y in (black, white))
        return dark / light

    def amount_for_contrast(self, ratio: float, *, black: float = 0.0, white: float = 0.8) -> float:
        """The least amount of white with this contrast ratio; above 1 it takes further layers, infinite if none will do."""
        low, high = 0.0, _MOST_LAYERS
        if self.contrast_ratio(high, black=black, white=white) < ratio:
            return math.inf
        while high - low > _FINE:
            middle = (low + high) / 2
            enough = self.contrast_ratio(middle, black=black, white=white) >= ratio
            low, high = (low, middle) if enough else (middle, high)
        return high


NOMINAL: Final = Opacity(
    infinite=np.full(3, 0.95), scatter=np.full(3, 7.0), chart_ground=0.8 * D50_WHITE, closes_at=0.7, yule_nielsen=1.7
)
"""White that nobody measured, invented to be plausible: one layer shows a trace of a black garment, its dots close up at 70 %. A
measured wedge replaces it."""


def laid(volume: Floats | float, closes_at: float) -> tuple[Floats, Floats]:
    """The share of the ground under white, and its thickness there (1 = full layer); a volume (...) is one times the other."""
    amount = np.asarray(volume, np.float64)
    thickness = np.maximum(amount, closes_at)
    return np.asarray(amount / np.maximum(thickness, _FINE)), np.asarray(thickness)
