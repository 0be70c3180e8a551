"""The tables of a rule file that decide the film: knockout, halftone, underbase. Taken together with the others by rules.py."""

from typing import Annotated, Self

from pydantic import Field, model_validator

from filmhand.rule_values import DeltaE, DiffusionKernel, DotShape, Ink, Mm, Percent, ScreenKind, Settings, Unit

Degrees = Annotated[float, Field(ge=0, lt=180), Unit("degrees")]


class KnockoutRules(Settings):
    """Leaving out film where the bare garment already shows the wanted colour."""

    strength: float = Field(default=0.0, ge=0, le=1)
    """0: film everywhere. 1: as little film as the colour allows."""
    tolerance: Annotated[DeltaE, Field(ge=0, le=20)] = 2.5
    """Closer to the garment than this is left bare."""
    least_coverage: Percent = 0.0
    """Where any film is left, never less than this share of the garment is covered."""
    solid_from: Annotated[Percent, Field(ge=50)] = 85
    """From this coverage on film is whole: the few holes that would be left save next to nothing and look like wear."""


class ScreenRules(Settings):
    """One screen."""

    screen: ScreenKind = ScreenKind.BLUE_NOISE
    """`am`: dots of growing size in even rows. `blue-noise`: scattered dots of one size. `error-diffusion`, for inks only: each
    dot's rounding is made good by its neighbours."""
    lpi: Annotated[float, Field(ge=15, le=85), Unit("lines an inch")] = 45
    """Rows of AM dots an inch; more is finer, and harder for the powder to hold."""
    angle: Degrees = 22.5
    """Direction of the rows of AM dots."""
    shape: DotShape = DotShape.ROUND
    """Shape of an AM dot."""


class Angles(Settings):
    """AM angles of single inks, by letter: `angles = { K = 45, Y = 0 }`. Others are turned from `angle` by the usual steps."""

    C: Degrees | None = None
    """Of cyan."""
    M: Degrees | None = None
    """Of magenta."""
    Y: Degrees | None = None
    """Of yellow."""
    K: Degrees | None = None
    """Of black."""
    R: Degrees | None = None
    """Of red."""
    G: Degrees | None = None
    """Of green."""
    B: Degrees | None = None
    """Of blue."""
    O: Degrees | None = None  # noqa: E741 -- the ink's letter
    """Of orange."""
    W: Degrees | None = None
    """Of white."""

    def of(self, ink: Ink) -> float | None:
        """An ink's own angle, None where it has none."""
        angle: float | None = getattr(self, ink.value)
        return angle


class InkScreenRules(ScreenRules):
    """The screen of the inks."""

    angles: Angles = Angles()
    kernel: DiffusionKernel = DiffusionKernel.FLOYD_STEINBERG
    """Which neighbours error diffusion passes a dot's rounding on to."""
    serpentine: bool = True
    """Error diffusion goes to and fro, which avoids its worm-like chains; false: every row from left to right."""


class HalftoneRules(Settings):
    """How coverage and inks become dots, and the least the powder can hold."""

    coverage: ScreenRules = ScreenRules(screen=ScreenKind.AM)
    """The screen that turns partial film into islands of solid film."""
    inks: InkScreenRules = InkScreenRules()
    """The screen of the inks on those islands."""
    least_dot: Mm = 0.25
    """Across the smallest island of film that is printed. Smaller ones grow to that, or go, so that the tone stays."""
    least_hole: Mm = 0.2
    """Across the smallest hole in screened film that is left open. Smaller ones open up, or close, so that the tone stays."""

    @model_validator(mode="after")
    def _islands_that_hold_powder(self) -> Self:
        if self.coverage.screen is ScreenKind.ERROR_DIFFUSION:
            raise ValueError("coverage.screen: expected am or blue-noise; the single dots of error diffusion hold no powder")
        return self


class UnderbaseRules(Settings):
    """White under the colour."""

    density: Percent = 100
    """How full the white is laid where it is fullest."""
    tolerance: Annotated[DeltaE, Field(ge=0, le=10)] = 1.0
    """Less white is laid under colours so dark that it changes them, on this garment, by no more than this. 0: all full."""
    least_density: Percent = 60
    """Never less white than this under any film, for it holds the powder."""
    highlight: Percent = 100
    """How full a printer with `highlight_white` lays its second white, under colours that need it."""
    choke: Mm = 0.15
    """How far the white is pulled in from the colour's edge, so that none shows."""
    island_choke: Mm = 0.03
    """The same around the dots of screened coverage, which would lose their white to the choke of solid edges. On a dark garment,
    where ink without white is not seen, these dots keep all their white and the inks go on beyond it by so much."""
