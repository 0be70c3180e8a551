"""A gang sheet: which copy lies where on the film, and rotated how.

One coordinate system from layout to cutter: that of the delivered TIFF. x grows to the right from the film's left edge (margin
included), y grows down from the sheet's first row. Where the printer mirrors, each picture is mirrored left to right first, then
rotated counter-clockwise (as seen in the TIFF), then placed; layouts are made of mirrored outlines, so nothing else need know.
"""

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Spot:
    """Where a label lies on a sheet: the upright box around it, in mm of the delivered TIFF; turned and mirrored as a copy is."""

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    rotation_deg: float


@dataclass(frozen=True)
class Placement:
    """One copy on a sheet, or one piece of it: the upright box around the rotated picture, in mm of the delivered TIFF.

    At slant angles the box's empty corners may reach past the film. `part`: 0 where the design lies in one piece, else which of
    its pieces this is, from 1. `label`: where this copy's label is printed, if it has one.
    """

    job: str
    copy: int
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    rotation_deg: float
    part: int = 0
    label: Spot | None = None


@dataclass(frozen=True)
class Sheet:
    """Placements on one length of film. `length_mm` has the margin at both ends in it."""

    name: str
    film_width_mm: float
    length_mm: float
    placements: tuple[Placement, ...]


def copies_on(placements: Iterable[Placement]) -> tuple[tuple[str, int], ...]:
    """The copies, each as job and number, in the order of their first pieces."""
    return tuple(dict.fromkeys((one.job, one.copy) for one in placements))
