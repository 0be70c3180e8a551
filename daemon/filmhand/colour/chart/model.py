"""A chart before it is drawn: its patches, and the marks on each block of film, in millimetres.

A block is a piece of film that is cut out and pressed by itself. Places are measured from its upper left corner, seen as it will
be seen on the garment; mirroring is left to composing. No wall between charts and targets: a patch is a mark like any other.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.chart.kinds import Kind

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Wanted:
    """What is asked of charts. `block_mm`: the largest width and height of a block, what the heat press takes.

    `patches`: in the grid and the sector chart together with all repeats; None: as many as suit the inks. `most_ink`: patches of
    more ink (colour inks together, 1 = one full ink) are left out. `seed`: of the patches' random order; 0 leaves them in order.
    """

    patches: int | None = None
    patch_mm: float = 9.0
    block_mm: tuple[float, float] = (280.0, 380.0)
    most_ink: float | None = None
    seed: int = 1


@dataclass(frozen=True)
class Box:
    """A rectangle."""

    left: float
    top: float
    width: float
    height: float


@dataclass(frozen=True)
class Disc:
    """A full circle around a middle."""

    x: float
    y: float
    diameter: float


@dataclass(frozen=True)
class Arrow:
    """A triangle that points to the right, as high as it is long; `x`, `y` is the middle of its back."""

    x: float
    y: float
    length: float


@dataclass(frozen=True)
class Text:
    """One line of words. `anchor` as Pillow names it: left, middle or right of `x`; `y` is the middle of the line's height."""

    x: float
    y: float
    height: float
    words: str
    anchor: str = "mm"


@dataclass(frozen=True)
class Stairs:
    """A dash, one dot thin, in every row of dots, each right of the one above; after `steps` they begin again at the left."""

    box: Box
    steps: int


Shape = Box | Disc | Arrow | Text | Stairs


@dataclass(frozen=True)
class Mark:
    """A shape and what it changes where it lies: the ink amounts and the film coverage it names, 0 to 1; no other."""

    shape: Shape
    inks: Mapping[str, float] = field(default_factory=dict)
    coverage: float | None = None


@dataclass(frozen=True)
class Block:
    """A piece of film. Later marks lie over earlier ones; where none does there is no film.

    `fine`: drawn dot by dot instead of at a resolution that suits patches and lettering. `choke_mm` (around islands at most this)
    and `lpi` (of screened coverage) go before the rule's. `garment`: what it is shown on. `patches`: where each measured patch
    lies, by name.
    """

    name: str
    size_mm: tuple[float, float]
    marks: tuple[Mark, ...]
    fine: bool = False
    choke_mm: float | None = None
    lpi: float | None = None
    garment: str = "#ffffff"
    patches: Mapping[str, Box] = field(default_factory=dict)


@dataclass(frozen=True, eq=False)
class PatchList:
    """What is measured, in the order of measuring. `amounts`: (m, k) 0 to 1 as sent to the printer, columns as `inks`."""

    name: str
    inks: tuple[str, ...]
    names: tuple[str, ...]
    amounts: Floats


@dataclass(frozen=True, eq=False)
class Chart:
    """A chart: its blocks, what is measured of them, and what a person does, in order."""

    kind: Kind
    title: str
    blocks: tuple[Block, ...]
    to_do: tuple[str, ...]
    lists: tuple[PatchList, ...] = ()


def as_sent(amounts: Floats) -> Floats:
    """Ink amounts, any shape, 0 to 1, as the eight-bit planes that are screened can hold them: whole 255ths."""
    return np.asarray(np.rint(np.asarray(amounts, np.float64) * 255) / 255)
