"""The kinds of value that rule and printer files hold: lengths, times, percentages, inks, and the words to choose among."""

import re
from dataclasses import dataclass
from datetime import time
from enum import StrEnum
from typing import Annotated

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field

from filmhand import units


@dataclass(frozen=True)
class Unit:
    """What a plain number in a settings file counts: said in docs/reference.md, never written in the file."""

    name: str


Mm = Annotated[float, BeforeValidator(units.parse_length_mm)]
Seconds = Annotated[float, BeforeValidator(units.parse_seconds)]
Clock = Annotated[time, BeforeValidator(units.parse_clock)]
Percent = Annotated[float, Field(ge=0, le=100), Unit("%")]
DeltaE = Annotated[float, Unit("ΔE00")]


def parse_hex(text: object) -> str:
    """A colour as "#" and six hexadecimal digits (sRGB). ValueError says what is expected."""
    if isinstance(text, str) and re.fullmatch(r"#[0-9a-fA-F]{6}", text.strip()):
        return text.strip()
    raise ValueError(f'expected a colour as "#" and six digits of 0-9 and a-f, such as "#1b1b1d", not {text!r}')


Hex = Annotated[str, BeforeValidator(parse_hex)]


class Ink(StrEnum):
    """The letters a printer file may name, with the trade's ink names as values' `name`."""

    CYAN = "C"
    MAGENTA = "M"
    YELLOW = "Y"
    BLACK = "K"
    RED = "R"
    GREEN = "G"
    BLUE = "B"
    ORANGE = "O"
    WHITE = "W"


class OnOpaque(StrEnum):
    """What becomes of artwork without transparency."""

    PRINT = "print"
    HOLD = "hold"
    REJECT = "reject"
    REMOVE = "remove"


class Intent(StrEnum):
    """Rendering intents of ICC.1:2010 section 6.2."""

    PERCEPTUAL = "perceptual"
    RELATIVE = "relative"
    SATURATION = "saturation"
    ABSOLUTE = "absolute"


class BlackGeneration(StrEnum):
    """How much of a dark colour is laid in black instead of in the three colours."""

    LEAST_INK = "least-ink"
    LIGHT = "light"
    MEDIUM = "medium"
    HEAVY = "heavy"


class Spared(StrEnum):
    """What least ink counts."""

    INK = "ink"
    MONEY = "money"


class ScreenKind(StrEnum):
    """How partial tone becomes dots."""

    AM = "am"
    BLUE_NOISE = "blue-noise"
    ERROR_DIFFUSION = "error-diffusion"


class DiffusionKernel(StrEnum):
    """Published kernels of error diffusion, named after their authors."""

    FLOYD_STEINBERG = "floyd-steinberg"
    JARVIS_JUDICE_NINKE = "jarvis-judice-ninke"
    STUCKI = "stucki"


class DotShape(StrEnum):
    """Shape of an AM dot."""

    ROUND = "round"
    ELLIPSE = "ellipse"
    LINE = "line"
    DIAMOND = "diamond"


class Nest(StrEnum):
    """What a copy takes up on the film: its outline or its box."""

    OUTLINE = "outline"
    BOX = "box"


class CutFile(StrEnum):
    """The forms in which cut paths are written: SVG 1.1, PDF, DXF."""

    SVG = "svg"
    PDF = "pdf"
    DXF = "dxf"


class Form(StrEnum):
    """One TIFF an ink, or one TIFF with every ink."""

    PLANES = "planes"
    ONE_FILE = "one-file"


class Compression(StrEnum):
    """TIFF compression: LZW (5), Deflate (8), PackBits (32773) or none (1)."""

    LZW = "lzw"
    DEFLATE = "deflate"
    PACKBITS = "packbits"
    NONE = "none"


class Settings(BaseModel):
    """The base of every table in a settings file: cannot be changed once read, and refuses a key it does not know."""

    model_config = ConfigDict(frozen=True, extra="forbid", str_strip_whitespace=True, allow_inf_nan=False)


class Worded(Settings):
    """One thing that has a name."""

    also: tuple[str, ...] = ()
    """Other words for the same, such as those of another language."""


class Limits(Settings):
    """Three limits of one check, each in the check's own unit; any may be left out."""

    warn: float | None = None
    """Past this it is printed, and the report says so."""
    hold: float | None = None
    """Past this it waits in `held` for a person's yes or no."""
    reject: float | None = None
    """Past this it goes back to the customer, with a note."""


class LengthLimits(Settings):
    """Three limits of one check, each a length with its unit; any may be left out."""

    warn: Mm | None = None
    """As above."""
    hold: Mm | None = None
    """As above."""
    reject: Mm | None = None
    """As above."""
