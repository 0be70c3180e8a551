"""What a PDF's page says of itself, beyond what is seen of it, for the checks that have limits for it."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

_MOST_NAMES: Final = 8

Value = tuple[int, int, int]


@dataclass(frozen=True)
class PdfFacts:
    """Of one page, with all that it draws from. Names stand in the order met.

    `missing_fonts`: fonts that it uses and that the file does not hold; others are drawn in their place.
    `overprints`: how many things on it are to mix with what lies under them.
    `spots`: its spot colours, as the file writes them; those of the four printing inks apart. `spot_values`: the first of them
    with the sRGB, 0 to 255, that each is drawn as at full tint.
    """

    missing_fonts: tuple[str, ...] = ()
    overprints: int = 0
    spots: tuple[str, ...] = ()
    spot_values: tuple[tuple[str, Value], ...] = ()


def listed(names: Iterable[str]) -> str:
    """Names in a row, as a note can bear them: the first few."""
    every = list(names)
    return ", ".join(every[:_MOST_NAMES]) + (", …" if len(every) > _MOST_NAMES else "")
