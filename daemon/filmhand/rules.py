"""Rule and printer files: TOML text in, frozen models out, or a refusal that names file, line, key and what was expected.

Lengths and times carry their unit in the text; here they are plain floats in millimetres and seconds. A rule's `[[when]]`
tables are kept beside it and laid over it by `RuleFile.for_width`, once the printed width of a job is known.
"""

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import time
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator

from filmhand import settings_file, units

Mm = Annotated[float, BeforeValidator(units.parse_length_mm)]
Seconds = Annotated[float, BeforeValidator(units.parse_seconds)]
Clock = Annotated[time, BeforeValidator(units.parse_clock)]
Percent = Annotated[float, Field(ge=0, le=100)]
Hex = Annotated[str, Field(pattern=r"^#[0-9a-fA-F]{6}$")]

WHITE = "W"
"""The letter of the white ink, always the last in print order."""


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


class ScreenKind(StrEnum):
    """How partial tone becomes dots."""

    AM = "am"
    BLUE_NOISE = "blue-noise"


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


class _Frozen(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", str_strip_whitespace=True)


class Limits(_Frozen):
    """What happens past each limit: `warn` prints and says so, `hold` waits for a person, `reject` sends it back."""

    warn: float | None = None
    hold: float | None = None
    reject: float | None = None


class LengthLimits(_Frozen):
    """The same, in mm."""

    warn: Mm | None = None
    hold: Mm | None = None
    reject: Mm | None = None


class TicketRules(_Frozen):
    """Where an order's facts come from when no ticket file says them."""

    filename: str | None = None
    copies: int = Field(default=1, ge=1, le=100_000)

    @model_validator(mode="after")
    def _a_pattern_that_compiles(self) -> Self:
        if self.filename is not None:
            try:
                names = set(re.compile(self.filename).groupindex)
            except re.error as problem:
                raise ValueError(f"filename: expected a regular expression ({problem})") from None
            unknown = names - {"order", "width", "height", "copies", "garment", "placement"}
            if unknown:
                raise ValueError(f"filename: no such part of a ticket: {', '.join(sorted(unknown))}")
        return self


class SizeRules(_Frozen):
    """The printed size when the ticket does not say it, and its bounds."""

    width: Mm | None = None
    height: Mm | None = None
    max: tuple[Mm, Mm] | None = None
    trim: bool = True
    enlarge: bool = True
    """False: without an ordered size, artwork is never printed larger than the size the file itself states."""


class BackgroundRules(_Frozen):
    """Artwork without transparency."""

    opaque: OnOpaque = OnOpaque.HOLD
    tolerance: float = Field(default=4.0, ge=0, le=50)


class PreflightRules(_Frozen):
    """Limits of the checks, each measured at the printed size."""

    ppi: Limits = Limits(warn=200, reject=100)
    thin_line: LengthLimits | None = None
    thin_gap: LengthLimits | None = None
    soft_edge: Limits = Limits(warn=5, hold=30)
    out_of_gamut: Limits | None = None


class ColourRules(_Frozen):
    """From the source's colour to inks."""

    intent: Intent = Intent.PERCEPTUAL
    black_point_compensation: bool = True
    ink_limit: float = Field(default=220, ge=50, le=900)
    black: BlackGeneration = BlackGeneration.MEDIUM


class KnockoutRules(_Frozen):
    """Leaving out film where the bare garment already shows the wanted colour."""

    strength: float = Field(default=0.0, ge=0, le=1)
    tolerance: float = Field(default=2.5, ge=0, le=20)
    least_coverage: Percent = 0.0


class ScreenRules(_Frozen):
    """One screen."""

    screen: ScreenKind = ScreenKind.BLUE_NOISE
    lpi: float = Field(default=45, ge=15, le=85)
    angle: float = Field(default=22.5, ge=0, lt=180)
    shape: DotShape = DotShape.ROUND


class HalftoneRules(_Frozen):
    """How coverage and inks become dots, and the least the powder can hold."""

    coverage: ScreenRules = ScreenRules(screen=ScreenKind.AM)
    inks: ScreenRules = ScreenRules()
    least_dot: Mm = 0.25
    least_hole: Mm = 0.2


class UnderbaseRules(_Frozen):
    """White under the colour."""

    density: Percent = 100
    choke: Mm = 0.15
    island_choke: Mm = 0.03
    """Choke around the dots of screened coverage; they would lose their white to the choke of solid edges."""


class CloseRules(_Frozen):
    """When an open sheet is closed: at times of day, when the oldest copy has waited, when it is this long."""

    at: tuple[Clock, ...] = ()
    after: Seconds | None = None
    length: Mm | None = None


class GangRules(_Frozen):
    """How copies share the film."""

    gap: Mm = 6.0
    rotate: tuple[float, ...] = (0, 90, 180, 270)
    nest: Nest = Nest.OUTLINE
    seconds: float = Field(default=20, gt=0, le=3600)
    max_length: Mm = 5000.0
    close: CloseRules = CloseRules()
    labels: bool = False


class OutputRules(_Frozen):
    """The form of what the print controller gets."""

    form: Form = Form.PLANES
    compression: Compression = Compression.LZW
    passes: int | None = None
    """Number of passes the sheet is printed with; none: the printer file's slowest."""


class Rule(_Frozen):
    """What to do to artwork of one kind."""

    title: str
    garment: Hex = "#ffffff"
    ticket: TicketRules = TicketRules()
    size: SizeRules = SizeRules()
    background: BackgroundRules = BackgroundRules()
    preflight: PreflightRules = PreflightRules()
    colour: ColourRules = ColourRules()
    knockout: KnockoutRules = KnockoutRules()
    halftone: HalftoneRules = HalftoneRules()
    underbase: UnderbaseRules = UnderbaseRules()
    gang: GangRules = GangRules()
    output: OutputRules = OutputRules()


class Case(_Frozen):
    """When a `[[when]]` table applies: prints narrower, or wider, than a width."""

    width_below: Mm | None = None
    width_above: Mm | None = None

    def applies(self, width_mm: float) -> bool:
        """Whether a print of this width is meant."""
        return (self.width_below is None or width_mm < self.width_below) and (
            self.width_above is None or width_mm > self.width_above
        )


class Drop(_Frozen):
    """Picolitres a dot by ink; three numbers where the printer has three drop sizes."""

    model_config = ConfigDict(frozen=True, extra="allow")

    default: float | tuple[float, float, float] = 7.0
    __pydantic_extra__: dict[str, float | tuple[float, float, float]] = Field(init=False)

    def of(self, ink: str) -> tuple[float, ...]:
        """Volumes in pl, smallest first: one where the printer has one drop size."""
        value = (self.__pydantic_extra__ or {}).get(ink, self.default)
        return value if isinstance(value, tuple) else (value,)


class Price(_Frozen):
    """What things cost, in the shop's currency."""

    ink_per_l: float = Field(default=0, ge=0)
    white_per_l: float = Field(default=0, ge=0)
    film_per_m2: float = Field(default=0, ge=0)
    powder_per_kg: float = Field(default=0, ge=0)
    powder_g_m2: float = Field(default=45, ge=0)


class Printer(_Frozen):
    """The printing machine."""

    name: str
    film_width: Mm
    margin: Mm = 10.0
    resolution: tuple[Annotated[int, Field(ge=100, le=4800)], Annotated[int, Field(ge=100, le=4800)]] = (720, 720)
    bits: Literal[1, 2, 8] = 1
    inks: tuple[Ink, ...] = (Ink.CYAN, Ink.MAGENTA, Ink.YELLOW, Ink.BLACK, Ink.WHITE)
    mirror: bool = True
    profile: str | None = None
    drop_pl: Drop = Drop()
    speed_m2_h: dict[int, Annotated[float, Field(gt=0)]] = {}
    price: Price = Price()

    @model_validator(mode="after")
    def _inks_that_can_print(self) -> Self:
        if len(set(self.inks)) != len(self.inks):
            raise ValueError("inks: each ink once")
        if self.inks[-1:] != (Ink.WHITE,):
            raise ValueError('inks: expected "W" as the last: white lies over the colour on the film')
        if not {Ink.CYAN, Ink.MAGENTA, Ink.YELLOW} <= set(self.inks):
            raise ValueError('inks: expected at least "C", "M", "Y" and "W"')
        if self.film_width <= 2 * self.margin:
            raise ValueError("margin: expected less than half the film width")
        return self

    @property
    def colours(self) -> tuple[Ink, ...]:
        """The inks without white, in print order."""
        return self.inks[:-1]

    @property
    def printable_width(self) -> float:
        """Film width between the margins, mm."""
        return self.film_width - 2 * self.margin


@dataclass(frozen=True)
class RuleFile:
    """A rule as written: its general part, and its `[[when]]` tables with the keys that each changes."""

    text: str
    path: Path
    values: Mapping[str, Any]
    cases: tuple[tuple[Case, Mapping[str, Any]], ...]
    general: Rule

    @classmethod
    def parse(cls, text: str, path: Path) -> "RuleFile":
        """The rule in TOML text that came from `path`. SettingsError names the line, the key, and what was expected."""
        values = settings_file.parse(text, path)
        tables = values.pop("when", [])
        general = settings_file.validated(Rule, values, text, path)
        cases = []
        for table in tables:
            conditions = {key: table[key] for key in table.keys() & Case.model_fields.keys()}
            changes = {key: value for key, value in table.items() if key not in conditions}
            case = settings_file.validated(Case, conditions, text, path, within=("when",))
            settings_file.validated(Rule, _merged(values, changes), text, path, within=("when",))
            cases.append((case, changes))
        return cls(text, path, values, tuple(cases), general)

    @classmethod
    def load(cls, path: Path) -> "RuleFile":
        """The rule in a file; errors as `parse`."""
        return cls.parse(settings_file.read(path), path)

    @property
    def name(self) -> str:
        """The rule's name, which is its hot folder's."""
        return self.path.stem

    @property
    def digest(self) -> str:
        """SHA-256 of the text: which version a job was prepared by."""
        return hashlib.sha256(self.text.encode()).hexdigest()

    def for_width(self, width_mm: float) -> Rule:
        """The rule for a print of this width: every `[[when]]` that applies is laid over the general part, in order."""
        values = self.values
        for case, changes in self.cases:
            if case.applies(width_mm):
                values = _merged(values, changes)
        return (
            self.general
            if values is self.values
            else settings_file.validated(Rule, values, self.text, self.path, within=("when",))
        )


def load_printer(path: Path) -> Printer:
    """The printer in a file. SettingsError names the line, the key, and what was expected."""
    text = settings_file.read(path)
    return settings_file.validated(Printer, settings_file.parse(text, path), text, path)


def _merged(values: Mapping[str, Any], changes: Mapping[str, Any]) -> dict[str, Any]:
    """`changes` laid over `values`, table by table."""
    result = dict(values)
    for key, change in changes.items():
        old = result.get(key)
        result[key] = _merged(old, change) if isinstance(old, Mapping) and isinstance(change, Mapping) else change
    return result
