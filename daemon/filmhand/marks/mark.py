"""A mark: where on the sheet it lies, in which planes, and how it is drawn when a band needs its dots."""

from dataclasses import dataclass
from typing import Protocol

import numpy as np
from numpy.typing import NDArray


class Drawing(Protocol):
    """What a mark shows: a small frozen value, drawn anew for every band, so that no sheet's marks are held as dots."""

    def drawn(self, width: int, height: int) -> NDArray[np.bool_]:
        """Its dots in a box of so many dots, height×width bool, True = printed."""
        ...


@dataclass(frozen=True)
class Mark:
    """A drawing's box on the sheet in whole dots, and the letters of the planes it is printed in, each with full drops."""

    left: int
    top: int
    width: int
    height: int
    planes: tuple[str, ...]
    drawing: Drawing

    @property
    def bottom(self) -> int:
        """The first row below it."""
        return self.top + self.height


@dataclass(frozen=True)
class Solid:
    """A box printed all over: a line of a frame."""

    def drawn(self, width: int, height: int) -> NDArray[np.bool_]:
        """As `Drawing`."""
        return np.ones((height, width), np.bool_)
