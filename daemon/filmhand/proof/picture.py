"""From the dots of a window to its picture, at any size: the proof's one verb, and the console's.

Below one pixel a dot, a pixel is the mean of a block of dots. At one it is the dot. Above, dots are drawn round, as they spread.
"""

import math
from dataclasses import dataclass
from typing import Final, Self

from filmhand import units
from filmhand.colour.model import InkModel
from filmhand.proof.dots import Dots
from filmhand.proof.look import Bytes, look, look_of_dots
from filmhand.proof.magnified import magnified
from filmhand.proof.means import averaged, blended

EYE_MM: Final = 0.25
"""Standard deviation of what the eye blends: 45 lines an inch fade to 2 % of their contrast, as they do for a sharp eye, whose
limit is about 30 cycles a degree, from a metre away (common practice, no source)."""
LONGEST: Final = 2400
"""Pixels along the long side of a picture of the whole sheet, at most."""
_APART_MM: Final = 0.15
"""A picture whose pixels are finer still shows screen dots, and is not blended: it has room for 85 lines an inch."""


@dataclass(frozen=True)
class Scale:
    """Either dots across and down that make a pixel, or pixels that a dot is drawn with each way, or one and one."""

    block: tuple[int, int] = (1, 1)
    magnified: int = 1

    @classmethod
    def of(cls, zoom: float, *, resolution: tuple[int, int]) -> Self:
        """The nearest whole scale to pixels a dot, above 0. Below 1 pixels are square on the film, as nearly as dots allow."""
        if zoom >= 1:
            return cls(magnified=round(zoom))
        across = max(2, round(1 / zoom))
        return cls(block=(across, max(1, round(across * resolution[1] / resolution[0]))))

    @classmethod
    def of_whole(cls, width: int, length: int, *, resolution: tuple[int, int]) -> Self:
        """The largest scale for a picture of a whole sheet of so many dots, no finer than the eye blends."""
        across, down = resolution
        longest = max(width, length * across / down)
        return cls.of(1 / max(-(-longest // LONGEST), math.ceil(units.mm_to_px(_APART_MM, across))), resolution=resolution)

    @property
    def is_mean(self) -> bool:
        """Whether a pixel is a mean of dots."""
        return self.block != (1, 1)

    def size(self, width: int, height: int) -> tuple[int, int]:
        """Pixels across and down of a window of dots."""
        across, down = self.block
        return -(-width // across) * self.magnified, -(-height // down) * self.magnified

    def ppi(self, resolution: tuple[int, int]) -> tuple[float, float]:
        """Pixels an inch of film, across and down."""
        (across, down), (block_across, block_down) = resolution, self.block
        return self.magnified * across / block_across, self.magnified * down / block_down

    def blend_px(self, resolution: tuple[int, int]) -> tuple[float, float]:
        """How far the eye blends pixels, across and down; not at all while they show single dots."""
        pitch = [units.px_to_mm(block, dpi) for block, dpi in zip(self.block, resolution, strict=True)]
        return (0.0, 0.0) if min(pitch) < _APART_MM else (EYE_MM / pitch[0], EYE_MM / pitch[1])


def picture(dots: Dots, view: str, *, scale: Scale, blend_px: tuple[float, float] = (0.0, 0.0), model: InkModel) -> Bytes:
    """sRGB of a window, the size that `scale` says. `view`: as in view.py; the window lies as it is looked at.

    `blend_px`: as `Scale.blend_px`. What reaches in from beyond the window is not known: give one a little larger, and crop.
    """
    if scale.is_mean:
        return look(blended(averaged(dots, scale.block), blend_px), view, model=model)
    if scale.magnified == 1:
        return look_of_dots(dots, view, model=model)
    return look(magnified(dots, scale.magnified, model=model), view, model=model)
