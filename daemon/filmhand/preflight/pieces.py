"""Pieces that an opening left: which of them are lines or slits, and which are corners, cusps and other ends of what is wide."""

from dataclasses import dataclass
from typing import Final, Self

import cv2
import numpy as np
from numpy.typing import NDArray

from filmhand.preflight.grid import Part

_LEAST_RUN_MM: Final = 1.0
_LEAST_RUN: Final = 2.0
"""What hangs on something wider counts when it is narrow over a millimetre and over two limits: no serif, tip or burr. The tip
of a wedge of 28 degrees is as long."""

_LEAST_TAPER_MM: Final = 3.0
"""A gap that runs out to nothing, as outside two discs that touch, is a corner, unless it is narrow over so much."""

_TAPER: Final = 0.06
"""Variance of widths over the square of their mean: (r - 1)²/(3 (r + 1)²) where they fall evenly to 1/r; here r is 2.5."""

Mask = NDArray[np.bool_]
Indices = NDArray[np.intp]


@dataclass(frozen=True)
class Pieces:
    """`labels`: h×w int32, each piece's own number from 1, 0 elsewhere. Of each number (n,): whether it has a point half solid,
    and how many separate contacts with what is wide it has."""

    labels: NDArray[np.int32]
    is_solid: Mask
    contacts: Indices

    @classmethod
    def of(cls, left: Mask, opened: Mask, solid: Mask) -> Self:
        """The pieces of `left` (h×w), beside what the opening kept."""
        count, found = cv2.connectedComponents(left.view(np.uint8), connectivity=8, ltype=cv2.CV_32S)
        labels = np.asarray(found, np.int32)
        is_solid = np.zeros(count, np.bool_)
        is_solid[labels[left & solid]] = True
        beside = left & cv2.dilate(opened.view(np.uint8), np.ones((3, 3), np.uint8)).view(np.bool_)
        rows, columns = np.nonzero(beside)
        _, touching = cv2.connectedComponents(beside.view(np.uint8), connectivity=8, ltype=cv2.CV_32S)
        _, first = np.unique(touching[rows, columns], return_index=True)
        contacts = np.bincount(labels[rows[first], columns[first]], minlength=count)
        return cls(labels, is_solid, contacts)

    def that_count(
        self,
        at: tuple[Indices, Indices],
        width_px: NDArray[np.float32],
        length_px: NDArray[np.float32],
        *,
        limit_mm: float,
        per_mm: float,
        part: Part,
    ) -> Mask:
        """Which numbers count (n,), by their ridge points under the limit: where, how wide, for what length."""
        label = self.labels[at]
        count = self.contacts.size
        points = np.bincount(label, minlength=count)
        run_mm = np.bincount(label, length_px, count) / per_mm
        mean = np.bincount(label, width_px, count) / np.maximum(points, 1)
        variance = np.bincount(label, width_px**2, count) / np.maximum(points, 1) - mean**2
        long_mm = max(_LEAST_RUN_MM, _LEAST_RUN * limit_mm)
        runs_out = (self.contacts == 1) & (variance > _TAPER * mean**2) & (part is Part.GAP)
        least_mm = np.where(runs_out, max(_LEAST_TAPER_MM, long_mm), long_mm)
        counts = np.where((self.contacts == 0) & self.is_solid, points > 0, run_mm >= least_mm)
        counts[0] = False
        return np.asarray(counts, np.bool_)
