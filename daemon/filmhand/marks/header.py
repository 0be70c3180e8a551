"""The sheet's header: one line at its start that says which sheet this is."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.marks.type_area import TypeArea

HEADER_MM: Final = 6.0
"""Height of the strip that the line stands in."""
_SIZE_MM, _FACTS_MM, _LEAST_MM = 5.0, 3.4, 2.4
_BASELINE_MM: Final = 4.7
_BETWEEN_MM: Final = 4.0


@dataclass(frozen=True)
class Header:
    """The line: the sheet's name at the left, in larger letters, the other facts at the right. `resolution` as a label's."""

    sheet: str
    facts: tuple[str, ...]
    resolution: tuple[int, int]
    mirrored: bool

    def drawn(self, width: int, height: int) -> NDArray[np.bool_]:
        """As `Drawing`."""
        area = TypeArea.of((width, height), self.resolution)
        name = area.line(self.sheet, size_mm=_SIZE_MM, least_mm=_LEAST_MM)
        room = area.beside(name, apart_mm=_BETWEEN_MM)
        facts = room.line(" · ".join(self.facts), size_mm=_FACTS_MM, least_mm=_LEAST_MM)
        area = area.with_line(name, baseline_mm=_BASELINE_MM).with_line(facts, baseline_mm=_BASELINE_MM, at_right=True)
        dots = area.dots((width, height))
        return dots[:, ::-1] if self.mirrored else dots
