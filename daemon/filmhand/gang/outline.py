"""The outline of a picture's film: a polygon that holds every covered pixel, bays kept, and the mask it was traced from."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from filmhand.gang import cells
from filmhand.gang.cells import Cells
from filmhand.gang.hollow import hollows
from filmhand.gang.trace import ring_around
from filmhand.rules import Rule

Point = tuple[float, float]

_SLANTING_PX: Final = 1.5
"""What is turned is interpolated once, and once more when it is composed: seen up to two pixels, half of one is there already."""


@dataclass(frozen=True)
class Outline:
    """Where a picture's film lies, in mm of the picture's own upright box: origin top left, x right, y down.

    `points`: one simple polygon, its first point not repeated; everything inside it counts as taken when copies are nested.
    `cells`: the picture's film on a fine grid, on which finished layouts are checked. `holes`: simple polygons inside the film,
    bare all over, in which other copies may lie with the gap to the hole's edge; art in a hole's middle is cut out of it.
    """

    points: tuple[Point, ...]
    width_mm: float
    height_mm: float
    cells: Cells
    holes: tuple[tuple[Point, ...], ...] = ()

    @classmethod
    def box(cls, width_mm: float, height_mm: float) -> "Outline":
        """The outline of a picture that takes up its whole box."""
        columns, rows = cells.cells_across(width_mm, height_mm)
        points = ((0.0, 0.0), (width_mm, 0.0), (width_mm, height_mm), (0.0, height_mm))
        return cls(points, width_mm, height_mm, Cells.of(np.ones((rows, columns), np.bool_)))

    def ring(self) -> NDArray[np.float64]:
        """The points as n×2 float64, mm."""
        return np.array(self.points)

    def taken_mm2(self, gap_mm: float) -> float:
        """Area of the polygon with half a gap around it (Steiner's formula, exact for convex polygons)."""
        ring = self.ring()
        ahead = np.roll(ring, -1, axis=0)
        area = abs(float(np.sum(ring[:, 0] * ahead[:, 1] - ring[:, 1] * ahead[:, 0]))) / 2
        around = float(np.hypot(*(ahead - ring).T).sum())
        return area + around * gap_mm / 2 + math.pi * gap_mm**2 / 4

    def mirrored(self) -> "Outline":
        """The outline of the picture mirrored left to right."""
        points, *holes = (tuple((self.width_mm - x, y) for x, y in reversed(ring)) for ring in (self.points, *self.holes))
        return Outline(points, self.width_mm, self.height_mm, self.cells.mirrored(), tuple(holes))

    def to_json(self) -> dict[str, Any]:
        """Plain values for JSON."""
        return {
            "points": [list(point) for point in self.points],
            "width_mm": self.width_mm,
            "height_mm": self.height_mm,
            "cells": self.cells.to_json(),
            "holes": [[list(point) for point in hole] for hole in self.holes],
        }

    @classmethod
    def from_json(cls, values: Mapping[str, Any]) -> "Outline":
        """The inverse of `to_json`."""
        points, *holes = (tuple((float(x), float(y)) for x, y in ring) for ring in (values["points"], *values.get("holes", ())))
        return cls(points, values["width_mm"], values["height_mm"], Cells.from_json(values["cells"]), tuple(holes))


def outline_of(coverage: NDArray[np.uint8], *, width_mm: float, height_mm: float, beyond_mm: float = 0.0) -> Outline:
    """The outline of a picture printed at width_mm × height_mm, and of what film may reach beyond its covered pixels.

    `coverage`: h×w uint8, 0 = bare garment, anything else may become film; right-reading; may be memory-mapped. ValueError where
    nothing is covered: preflight finds such artwork, it is not to be nested.
    """
    mask = cells.reduced(coverage, width_mm=width_mm, height_mm=height_mm, beyond_mm=beyond_mm)
    if not mask.any():
        raise ValueError("nothing of this picture is covered: it has no outline")
    ring, *holes = (
        tuple((float(x), float(y)) for x, y in ring)
        for ring in (
            ring_around(mask, width_mm=width_mm, height_mm=height_mm),
            *hollows(mask, width_mm=width_mm, height_mm=height_mm),
        )
    )
    return Outline(ring, width_mm, height_mm, Cells.of(mask), tuple(holes))


def film_beyond_mm(rule: Rule, *, pixel_mm: float) -> float:
    """How far film may reach beyond a design's covered pixels: by a least dot about the last of them; by the pixels that turning
    it to a slant angle makes of one.
    """
    return rule.halftone.least_dot / 2 + (_SLANTING_PX * pixel_mm if rule.gang.is_slanting else 0.0)
