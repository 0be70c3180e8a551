"""Upright boxes on the sheet."""

from dataclasses import dataclass

from filmhand.gang.sheet import Placement, Spot


@dataclass(frozen=True)
class Box:
    """An upright box on the sheet, mm."""

    left: float
    top: float
    right: float
    bottom: float

    @classmethod
    def of(cls, place: Placement | Spot) -> "Box":
        """The box of a copy or of a label."""
        return cls(place.x_mm, place.y_mm, place.x_mm + place.width_mm, place.y_mm + place.height_mm)

    def swapped(self) -> "Box":
        """With x and y in each other's place."""
        return Box(self.top, self.left, self.bottom, self.right)

    def grown(self, by_mm: float) -> "Box":
        """With so much more on every side."""
        return Box(self.left - by_mm, self.top - by_mm, self.right + by_mm, self.bottom + by_mm)
