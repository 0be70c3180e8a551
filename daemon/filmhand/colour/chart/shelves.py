"""Where a chart's blocks lie on the film: in reading order, for a person looks them through one after the other.

Film is not what counts here, so this is simpler, and easier to find one's way on, than the nesting of orders.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from filmhand.errors import SettingsError

Size = tuple[float, float]


@dataclass(frozen=True)
class Shelved:
    """`places`: left and top of each block, mm, from the printable part's corner as seen on the garment; `length_mm`: used up."""

    places: tuple[tuple[float, float], ...]
    length_mm: float


def shelve(sizes_mm: Sequence[Size], *, room_mm: float, gap_mm: float) -> Shelved:
    """Blocks of these widths and heights, left to right in rows. SettingsError where one is wider than the film has room."""
    x = y = high = 0.0
    places = []
    for width, height in sizes_mm:
        if width > room_mm:
            raise SettingsError(
                f"A block of this chart is {width:.0f} mm wide, and the film has {room_mm:.0f} mm between its margins",
                next_step="Print it on wider film, or ask for smaller blocks",
            )
        if x + width > room_mm:
            x, y, high = 0.0, y + high + gap_mm, 0.0
        places.append((x, y))
        x, high = x + width + gap_mm, max(high, height)
    return Shelved(tuple(places), y + high)
