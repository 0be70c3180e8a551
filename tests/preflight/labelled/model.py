"""What a made artwork is: a file, how it was ordered, and what a person who looks at it closely would say."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from filmhand.preflight.finding import Box

Boxes = tuple[Box, ...]
Tables = Mapping[str, Any]

BENCH_RULE: Final[Tables] = {
    "title": "bench",
    "garment": "#1b1b1d",
    "preflight": {
        "thin_line": {"warn": "0.4 mm", "reject": "0.2 mm"},
        "thin_gap": {"warn": "0.3 mm"},
        "lettering": {"warn": "1.5 mm"},
        "soft_edge": {"warn": 5, "hold": 30},
        "out_of_gamut": {"warn": 10},
        "ink_total": {"warn": 320},
    },
}
"""The rule that all are looked at with, unless theirs says otherwise; what it leaves out stands at its default."""

PRINTER: Final[Tables] = {"name": "bench", "film_width": "600 mm", "margin": "10 mm"}
"""580 mm of film between the margins."""

CHECKS: Final = (
    *("resolution", "enlarged", "jpeg_blocks", "ground", "halo", "specks", "fringe", "soft_edge"),
    *("thin_line", "thin_gap", "lettering", "film_fit", "aspect", "empty", "one_colour", "vanishing"),
    *("out_of_gamut", "ink_total", "profile", "alpha", "size", "fonts", "overprint", "special_inks", "readable"),
)
"""Names of the checks that the set has faults for."""

PLACED: Final = ("thin_line", "thin_gap", "specks", "ground")
"""Checks whose marks must overlap the true place."""


@dataclass(frozen=True)
class File:
    """A drawn artwork as it was sent. `ending`: of its name, without the dot. `places`: true boxes by check, as fractions of the
    artwork once it is cleared; a check that is not there, or has none, is true of the whole."""

    content: bytes
    ending: str
    places: Mapping[str, Boxes] = field(default_factory=dict)


@dataclass(frozen=True)
class Made:
    """A made artwork. `faults`: what is wrong with it, by check. `unsure`: checks on which two careful people might differ, which
    are not counted for it. `mended`: checks whose faults the rule mends: looked at again, the artwork must have none left."""

    name: str
    draw: Callable[[], File]
    faults: frozenset[str] = frozenset()
    unsure: frozenset[str] = frozenset()
    rule: Tables = field(default_factory=dict)
    ticket: Tables = field(default_factory=dict)
    mended: frozenset[str] = frozenset()
