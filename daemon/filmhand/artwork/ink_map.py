"""How much ink artwork that came as CMYK asks for, place by place."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True)
class InkMap:
    """`percent`: h×w float32, 0 to 400, the mean of all inks together over cells of `cell_px`×`cell_px` artwork pixels
    (the last ones may be smaller), what is transparent counted as none.

    `left_px`, `top_px`: where the first cell begins, in the artwork's pixels.
    """

    percent: NDArray[np.float32]
    cell_px: int
    left_px: int = 0
    top_px: int = 0

    def after_cut(self, left_px: int, top_px: int) -> "InkMap":
        """The map of artwork that was cut so far in from its left and upper edge."""
        return replace(self, left_px=self.left_px - left_px, top_px=self.top_px - top_px)
