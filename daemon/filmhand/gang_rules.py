"""The rule file's tables for the gang sheet: how copies share film, what is printed beside them, cutting, pressing."""

from typing import Annotated, Final, Self

from pydantic import Field, model_validator

from filmhand.rule_values import Clock, CutFile, Mm, Nest, Seconds, Settings, Unit

_QUARTER: Final = 90


class CloseRules(Settings):
    """When an open sheet is closed: whichever of these comes first. A rush order always closes it at once."""

    at: tuple[Clock, ...] = ()
    """Times of day."""
    after: Seconds | None = None
    """When its oldest copy has waited this long."""
    length: Mm | None = None
    """When it has grown this long."""
    before_due: Seconds | None = None
    """This long before the first of its copies is due."""
    carry: Mm | None = None
    """At a time of day, a sheet shorter than this waits until it has grown so long, at most to the next time of day,
    if nothing on it is due by then."""


class MarkRules(Settings):
    """What is printed on the film beside the copies, in white."""

    header: bool = False
    """At the start of the sheet its name, the date, the rule and the length."""
    registration: bool = False
    """A registration mark in each corner, in every ink."""
    trim: bool = False
    """A thin frame around each copy, half a gap from it, where it comes no nearer to another copy."""


class CutRules(Settings):
    """Paths for a cutting table, in millimetres of the film."""

    offset: Mm = 2.0
    """How far outside the printed edge a copy is cut. At most half the gap."""
    together: bool = True
    """Parts of a design that lie apart stay in one piece, tied by bridges of bare film. False: each is cut out by itself."""
    files: tuple[CutFile, ...] = ()
    """The forms to write them in: `svg`, `pdf`, `dxf`. None: no paths."""


class GangRules(Settings):
    """How copies share the film."""

    gap: Mm = 6.0
    """Least distance between two copies, for the knife."""
    rotate: Annotated[tuple[float, ...], Unit("degrees")] = (0, 90, 180, 270)
    """The rotations a copy may lie in."""
    nest: Nest = Nest.OUTLINE
    """A copy takes up its `outline`, or its `box`."""
    inside: bool = True
    """With `outline`, small copies may lie inside rings and frames."""
    split: Mm | None = None
    """Parts of a design that lie farther apart than this become separate pieces. Without it a design stays in one piece."""
    seconds: Annotated[float, Field(gt=0, le=3600), Unit("s")] = 20
    """Most time to spend on one sheet's layout; where more than five sheets wait, less for each."""
    max_length: Mm = 5000.0
    """Greatest length of a sheet, margins included."""
    films: tuple[Mm, ...] = ()
    """Widths of film in stock; each sheet is laid on the one that comes cheapest. None: the printer file's."""
    printers: tuple[str, ...] = ()
    """Names of printer files in the shop's `printers/` that share this hot folder's work by load. None: `printer.toml` alone."""
    close: CloseRules = CloseRules()
    labels: bool = False
    """Beside each copy a label: its order, which copy of how many it is, and a QR code of both."""
    marks: MarkRules = MarkRules()
    cut: CutRules = CutRules()

    @property
    def is_slanting(self) -> bool:
        """Whether copies may lie at other angles than quarter turns."""
        return any(angle % _QUARTER for angle in self.rotate)

    @property
    def printer_names(self) -> tuple[str, ...]:
        """The printers of this hot folder as jobs name them: the shop's own has the empty name."""
        return self.printers or ("",)

    @model_validator(mode="after")
    def _cuts_that_do_not_cross(self) -> Self:
        if self.cut.files and 2 * self.cut.offset > self.gap:
            raise ValueError(f"cut.offset: expected at most half the gap, {self.gap / 2:g} mm")
        return self


class PressRules(Settings):
    """How the film is pressed, in the shop's own words, for the operator's sheet. Nothing is worked out from it."""

    temperature: str = ""
    """Such as "150 °C"."""
    time: str = ""
    """Such as "12 s"."""
    pressure: str = ""
    """Such as "medium"."""
    peel: str = ""
    """Such as "hot", or "cold"."""
    note: str = ""
    """Anything else the operator should read."""
