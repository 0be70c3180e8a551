"""Rule files: TOML text in, frozen models out, or a refusal that names file, line, key and what was expected.

Lengths and times carry their unit in the text; here they are plain floats in millimetres and seconds. A rule's `[[when]]`
tables are kept beside it and laid over it by `RuleFile.for_width`, once the printed width of a job is known.
What a room needs of settings it may import from here, the printer file's names too.
"""

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Self

from pydantic import Field, model_validator

from filmhand import settings_file
from filmhand.film_rules import HalftoneRules, InkScreenRules, KnockoutRules, ScreenRules, UnderbaseRules
from filmhand.gang_rules import CloseRules, CutRules, GangRules, MarkRules, PressRules
from filmhand.printer import HIGHLIGHT, WHITE, Drop, Price, Printer, is_white, load_printer
from filmhand.rule_values import (
    BlackGeneration,
    Clock,
    Compression,
    CutFile,
    DeltaE,
    DiffusionKernel,
    DotShape,
    Form,
    Hex,
    Ink,
    Intent,
    LengthLimits,
    Limits,
    Mm,
    Nest,
    OnOpaque,
    Percent,
    ScreenKind,
    Seconds,
    Settings,
    Spared,
    Unit,
)

__all__ = [
    "HIGHLIGHT",
    "WHITE",
    "BlackGeneration",
    "Clock",
    "CloseRules",
    "Compression",
    "CutFile",
    "CutRules",
    "DiffusionKernel",
    "DotShape",
    "Drop",
    "Form",
    "GangRules",
    "HalftoneRules",
    "Hex",
    "Ink",
    "InkScreenRules",
    "Intent",
    "KnockoutRules",
    "LengthLimits",
    "Limits",
    "MarkRules",
    "Mm",
    "Nest",
    "OnOpaque",
    "Percent",
    "PressRules",
    "Price",
    "Printer",
    "ScreenKind",
    "ScreenRules",
    "Seconds",
    "Spared",
    "UnderbaseRules",
    "is_white",
    "load_printer",
]

Printed = Annotated[Mm, Field(gt=0)]


class TicketRules(Settings):
    """Where an order's facts come from when no ticket file says them."""

    filename: str | None = None
    """A pattern (regular expression) for the file's name without its ending. Its named parts may be `order`, `width`, `height`,
    `copies`, `garment` and `placement`."""
    copies: int = Field(default=1, ge=1, le=100_000)
    """Copies printed when nothing says how many."""
    needed: bool = False
    """True: artwork waits for its ticket (a ticket file, or a line of an order list), and is held if none comes."""
    wait: Seconds = 900.0
    """How long a ticket or a line of an order list waits for its artwork, and artwork for a ticket it needs. Then it is said."""

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


class SizeRules(Settings):
    """The printed size when the ticket does not say it, and its bounds."""

    width: Printed | None = None
    """Printed width when nothing else says it. With `height` too, the artwork is fitted inside both."""
    height: Printed | None = None
    """Printed height when nothing else says it."""
    max: tuple[Printed, Printed] | None = None
    """Greatest width and height of a print."""
    trim: bool = True
    """Cut away empty edges first: a printed width is that of what can be seen."""
    enlarge: bool = True
    """False: without an ordered size, artwork is never printed larger than the size the file itself states."""


class BackgroundRules(Settings):
    """Artwork without transparency."""

    opaque: OnOpaque = OnOpaque.HOLD
    """`print` it with its ground, `hold` it for a person, `reject` it, or `remove` the ground."""
    tolerance: Annotated[DeltaE, Field(ge=0, le=50)] = 4.0
    """How far from the ground colour still counts as ground."""


class PreflightRules(Settings):
    """Limits of the checks, each measured at the printed size. Each names what happens past it: `warn`, `hold`, `reject`."""

    ppi: Annotated[Limits, Unit("ppi")] = Limits(warn=200, reject=100)
    """Artwork pixels an inch of print: lower is past the limit."""
    true_ppi: Annotated[Limits, Unit("ppi")] = Limits(warn=120)
    """The same, less what an enlargement before the artwork came has added: lower is past the limit."""
    jpeg_blocks: Annotated[Limits, Unit("%")] = Limits(warn=20)
    """Share of the artwork in which the 8 × 8 blocks of strong JPEG compression show: more is past the limit."""
    thin_line: LengthLimits | None = None
    """The narrowest part that carries film: narrower is past the limit, for it does not hold powder."""
    thin_gap: LengthLimits | None = None
    """The narrowest gap inside the film: narrower is past the limit, for it fills in."""
    lettering: LengthLimits | None = None
    """Height of the smallest lettering, of letters like x: smaller is past the limit, for it cannot be read on fabric."""
    speck: Mm = 0.4
    """Film no larger than this across that stands alone is a speck: stray powder, or a dot that does not hold."""
    specks: Annotated[Limits, Unit("specks")] = Limits(warn=0)
    """Number of specks: more is past the limit."""
    fringe: Annotated[Limits, Unit("%")] = Limits(warn=10)
    """Share of the motif's outline that has a thin fringe of another ground's colour: more is past the limit."""
    halo: Annotated[Limits, Unit("%")] = Limits(warn=10, hold=40)
    """Share of the motif's outline along which a solid ground is not quite one colour: more is past the limit."""
    soft_edge: Annotated[Limits, Unit("%")] = Limits(warn=5, hold=30)
    """Share of the artwork that is half transparent, smooth edges apart: more is past the limit."""
    aspect: Annotated[Limits, Unit("%")] = Limits(warn=2)
    """How far the proportions of an ordered width and height are from the artwork's: more is past the limit."""
    one_colour: Annotated[Limits, Unit("%")] = Limits(hold=99.5)
    """Share of a filled rectangle that is of one colour: more is past the limit, for it is rarely meant."""
    vanishing: Annotated[Limits, Unit("%")] = Limits(warn=70, hold=95)
    """Share of the artwork that has the garment's colour and will not be seen: more is past the limit."""
    out_of_gamut: Annotated[Limits, Unit("%")] | None = None
    """Share of the artwork further than ΔE00 5 from any colour the printer can lay: more is past the limit."""
    ink_total: Annotated[Limits, Unit("%")] | None = None
    """Most ink in artwork that came as CMYK, its inks together, over any 4 mm square: more is past the limit."""
    special_inks: Annotated[Limits, Unit("inks")] = Limits(hold=0)
    """Number of inks a PDF names that are not printed as such (metal, neon, varnish, white, cuts): more is past the limit."""
    fonts: Annotated[Limits, Unit("fonts")] = Limits(hold=0)
    """Number of fonts that a PDF or SVG uses and does not hold: more is past the limit, for other letters may be drawn."""
    overprint: Annotated[Limits, Unit("objects")] = Limits(warn=0)
    """Number of things in a PDF that are to mix with what lies under them: more is past the limit, for they do not."""


class MendRules(Settings):
    """What is mended without asking. What was changed is said, with pictures before and after."""

    specks: bool = False
    """Drop specks, as `preflight.speck` tells them."""
    lines: Mm | None = None
    """Thicken narrower lines to this width."""
    edges: Percent | None = None
    """Harden soft edges and fades: what is at least this opaque becomes solid, all else bare."""


class ColourRules(Settings):
    """From the source's colour to inks. Names of files are paths from the shop's folder."""

    intent: Intent = Intent.PERCEPTUAL
    """Rendering intent, where a profile offers several."""
    black_point_compensation: bool = True
    """Fit the source's darkest tone to the printer's, so that shadows keep their steps."""
    ink_limit: Annotated[float, Field(ge=50, le=900), Unit("%")] = 220
    """Most ink at one place, the colour inks together; 100 is one full ink."""
    black: BlackGeneration = BlackGeneration.MEDIUM
    """How much of a dark colour is laid in black instead of in the three colours."""
    tolerance: Annotated[float, Field(ge=0, le=5), Unit("ΔE00")] = 1.0
    """How far a colour may be missed where that saves ink, with `black = "least-ink"`: none by more, pictures by less than half
    of it on average. Between hue sectors of more than four inks up to 1.5."""
    spare: Spared = Spared.INK
    """What least ink means: the least volume of ink, or the least money by the printer file's prices."""
    smooth_tones: Annotated[float, Field(ge=0, le=1)] = 0
    """How much least ink shuns inks whose single dots show in light tones, black above all: 0 not at all, 1 strongly."""
    assume_rgb: str | None = None
    """ICC profile for RGB and gray pictures that name none and do not say that they are sRGB. Without it they count as sRGB."""
    assume_cmyk: str | None = None
    """ICC profile for CMYK pictures that name none, such as your customers' offset printer's. Without it colours are a guess."""
    link: str | None = None
    """Device link from RGB to CMYK, whose inks are laid within `ink_limit`. What goes in is RGB in `assume_rgb`, else sRGB; other
    artwork is converted first. With knockout the print looks as the link's inks would; how much is black is for `black`."""


class OutputRules(Settings):
    """The form of what the print controller gets."""

    form: Form = Form.PLANES
    """`planes`: one TIFF an ink. `one-file`: one TIFF with every ink."""
    compression: Compression = Compression.LZW
    """Compression of the TIFFs."""
    passes: int | None = None
    """Number of passes the sheet is printed with; none: the printer file's slowest."""


class Rule(Settings):
    """What to do to artwork of one kind."""

    title: str
    """What the shop calls this kind of work."""
    garment: Hex = "#ffffff"
    """Colour of the garment, unless the ticket says another: six hexadecimal digits."""
    ticket: TicketRules = TicketRules()
    size: SizeRules = SizeRules()
    background: BackgroundRules = BackgroundRules()
    preflight: PreflightRules = PreflightRules()
    mend: MendRules = MendRules()
    colour: ColourRules = ColourRules()
    knockout: KnockoutRules = KnockoutRules()
    halftone: HalftoneRules = HalftoneRules()
    underbase: UnderbaseRules = UnderbaseRules()
    gang: GangRules = GangRules()
    press: PressRules = PressRules()
    output: OutputRules = OutputRules()


class Case(Settings):
    """When a `[[when]]` table applies: prints narrower, or wider, than a width. Both, and it applies between them."""

    width_below: Mm | None = None
    """Prints narrower than this."""
    width_above: Mm | None = None
    """Prints wider than this."""

    @model_validator(mode="after")
    def _some_condition(self) -> Self:
        if self.width_below is None and self.width_above is None:
            raise ValueError("expected width_below or width_above: the prints that are meant")
        return self

    def applies(self, width_mm: float) -> bool:
        """Whether a print of this width is meant."""
        return (self.width_below is None or width_mm < self.width_below) and (
            self.width_above is None or width_mm > self.width_above
        )


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
        tables = settings_file.tables(values.pop("when", []), "when", text, path)
        general = settings_file.validated(Rule, values, text, path)
        cases = []
        for index, table in enumerate(tables):
            within = ("when", str(index))
            conditions = {key: table[key] for key in table.keys() & Case.model_fields.keys()}
            changes = {key: value for key, value in table.items() if key not in conditions}
            case = settings_file.validated(Case, conditions, text, path, within=within)
            settings_file.validated(Rule, merged(values, changes), text, path, within=within)
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
    def base(self) -> Path:
        """The folder that paths in it start from: the shop's, in whose folder `rules` it lies."""
        return self.path.parent.parent

    @property
    def digest(self) -> str:
        """SHA-256 of the text: which version a job was prepared by."""
        return hashlib.sha256(self.text.encode()).hexdigest()

    def for_width(self, width_mm: float) -> Rule:
        """The rule for a print of this width: every `[[when]]` that applies is laid over the general part, in order."""
        values = self.values
        for case, changes in self.cases:
            if case.applies(width_mm):
                values = merged(values, changes)
        return (
            self.general
            if values is self.values
            else settings_file.validated(Rule, values, self.text, self.path, within=("when",))
        )


def merged(values: Mapping[str, Any], changes: Mapping[str, Any]) -> dict[str, Any]:
    """`changes` laid over `values`, table by table."""
    result = dict(values)
    for key, change in changes.items():
        old = result.get(key)
        result[key] = merged(old, change) if isinstance(old, Mapping) and isinstance(change, Mapping) else change
    return result
