"""What composing a sheet made: its files, and every dot that was laid."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

CONTINUOUS: Final = 8
"""Bits a sample where the print controller does the screening."""


@dataclass(frozen=True)
class Composed:
    """A sheet's files and what was laid.

    `files`: names of the TIFFs, in print order of the inks, or of the one that holds them all.
    `samples`: by ink, what reading the file back must count: dots by drop size, smallest first; at 8 bits the sum of all tones.
    `checks`: by ink, the CRC-32 of the CRC-32s of its strips before they are compressed, each as four bytes, the lowest first.
    `mark_dots`: by ink, those of the dots that are of marks and labels; by drop size.
    `film_dots`: dots of printed film, whatever ink is on them; at 8 bits the full dots that coverage comes to.
    """

    sheet: str
    files: tuple[str, ...]
    preview: str
    inks: tuple[str, ...]
    bits: int
    resolution: tuple[int, int]
    width_dots: int
    length_dots: int
    samples: Mapping[str, tuple[int, ...]]
    checks: Mapping[str, int]
    mark_dots: Mapping[str, tuple[int, ...]]
    film_dots: int

    @property
    def dots(self) -> dict[str, tuple[int, ...]]:
        """Dots laid by ink, by drop size, smallest first; at 8 bits the full dots that the tones come to."""
        if self.bits != CONTINUOUS:
            return dict(self.samples)
        return {ink: (round(total / 255),) for ink, (total,) in self.samples.items()}
