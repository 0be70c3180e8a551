"""The printer file: the printing machine, its inks and what they cost, as a frozen model."""

from collections.abc import Mapping
from pathlib import Path
from typing import Annotated, Literal, Self

from pydantic import ConfigDict, Field, model_validator

from filmhand import settings_file
from filmhand.rule_values import Ink, Mm, Settings, Unit

WHITE = "W"
"""The letter of the white ink, always the last in print order."""
HIGHLIGHT = "W2"
"""The plane of a second pass of white, after all inks, on printers that have one."""

Dpi = Annotated[int, Field(ge=100, le=4800), Unit("dots per inch")]
Money = Annotated[float, Field(ge=0), Unit("the shop's currency")]


_WHITE_SOLIDS = 0.45


def is_white(plane: str) -> bool:
    """Whether a plane is white, the first or the second."""
    return plane[:1] == WHITE


def _only_inks(keys: Mapping[str, object] | None, such_as: str) -> None:
    """ValueError where a key is no ink's letter."""
    unknown = sorted((keys or {}).keys() - {ink.value for ink in Ink})
    if unknown:
        raise ValueError(f"{unknown[0]}: expected the letter of an ink, such as {such_as}")


class Drop(Settings):
    """Picolitres a dot by ink; three numbers, smallest first, where `bits = 2`. An ink's letter is a key too: `W = 12.0`."""

    model_config = ConfigDict(frozen=True, extra="allow")

    default: Annotated[float | tuple[float, float, float], Unit("pl")] = 7.0
    """The drop of every ink that has no line of its own."""
    __pydantic_extra__: dict[str, float | tuple[float, float, float]] = Field(init=False)

    @model_validator(mode="after")
    def _letters_of_inks(self) -> Self:
        _only_inks(self.__pydantic_extra__, "W = 12.0")
        return self

    def of(self, ink: str) -> tuple[float, ...]:
        """Volumes in pl, smallest first: one where the printer has one drop size."""
        value = (self.__pydantic_extra__ or {}).get(ink[:1], self.default)
        return value if isinstance(value, tuple) else (value,)


class Price(Settings):
    """What things cost, in the shop's currency. A litre of one ink may have a line of its own, by its letter: `K = 40.0`."""

    model_config = ConfigDict(frozen=True, extra="allow")

    ink_per_l: Money = 0
    """A litre of colour ink, of every one that has no line of its own."""
    white_per_l: Money = 0
    """A litre of white ink."""
    film_per_m2: Money = 0
    """A square metre of film, margins and gaps included."""
    powder_per_kg: Money = 0
    """A kilogram of powder."""
    powder_g_m2: Annotated[float, Field(ge=0), Unit("g/m²")] = 45
    """Powder that stays on a square metre of printed area."""
    __pydantic_extra__: dict[str, Annotated[float, Field(ge=0)]] = Field(init=False)

    @model_validator(mode="after")
    def _letters_of_colour_inks(self) -> Self:
        unknown = sorted((self.__pydantic_extra__ or {}).keys() - ({ink.value for ink in Ink} - {WHITE}))
        if unknown:
            raise ValueError(f"{unknown[0]}: expected a price named above, or the letter of a colour ink, such as K = 40.0")
        return self

    def of(self, ink: str) -> float:
        """A litre of an ink, white among them."""
        return self.white_per_l if is_white(ink) else (self.__pydantic_extra__ or {}).get(ink, self.ink_per_l)


class Solids(Settings):
    """Grams of dry matter that a millilitre of ink leaves, by its maker's sheet. An ink's letter is a key too: `W = 0.45`."""

    model_config = ConfigDict(frozen=True, extra="allow")

    default: Annotated[float, Field(ge=0, le=2), Unit("g/ml")] = 0.2
    """Of every ink that has no line of its own."""
    __pydantic_extra__: dict[str, Annotated[float, Field(ge=0, le=2)]] = Field(init=False)

    @model_validator(mode="after")
    def _letters_of_inks(self) -> Self:
        _only_inks(self.__pydantic_extra__, "W = 0.45")
        return self

    def of(self, ink: str) -> float:
        """Of an ink; white has more by common practice (no source), so it is 0.45 where nothing says otherwise."""
        extra = self.__pydantic_extra__ or {}
        return extra.get(ink[:1], _WHITE_SOLIDS if is_white(ink) else self.default)


class Printer(Settings):
    """The printing machine."""

    name: str
    """What the shop calls it; stands in tickets and reports."""
    film_width: Mm
    """Width of the roll or sheet of film."""
    margin: Mm = 10.0
    """Left unprinted along each edge of the film."""
    resolution: tuple[Dpi, Dpi] = (720, 720)
    """Across and along the film."""
    bits: Literal[1, 2, 8] = 1
    """1: dot or no dot. 2: three drop sizes. 8: continuous tone, screened by the print controller."""
    inks: tuple[Ink, ...] = (Ink.CYAN, Ink.MAGENTA, Ink.YELLOW, Ink.BLACK, Ink.WHITE)
    """In print order, white last. At least C, M, Y and W."""
    highlight_white: bool = False
    """The printer can lay white a second time, after all inks, as a plane of its own (W2). It goes under light colours only."""
    mirror: bool = True
    """Print mirrored, for film that is pressed face down."""
    profile: str | None = None
    """An ink model fitted to a chart of this printer (.inks), or a CMYK output profile (.icc), beside the printer file. Without
    one the built-in, nominal ink model is used."""
    drop_pl: Drop = Drop()
    solids_g_ml: Solids = Solids()
    speed_m2_h: dict[int, Annotated[float, Field(gt=0), Unit("m²/h")]] = Field(default={})
    """Film printed in an hour, by number of passes: `4 = 12.0`. For the estimate of minutes."""
    heads: Annotated[int, Field(ge=1, le=64)] = 1
    """Print heads that these speeds are reached with: the forecast takes it that speed grows with their number."""
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
    def planes(self) -> tuple[str, ...]:
        """Letters of what is printed, in print order: the inks, white last of them, and then a second white if there is one."""
        return (*(str(ink) for ink in self.inks), *((HIGHLIGHT,) if self.highlight_white else ()))

    @property
    def printable_width(self) -> float:
        """Film width between the margins, mm."""
        return self.film_width - 2 * self.margin


def load_printer(path: Path) -> Printer:
    """The printer in a file. SettingsError names the line, the key, and what was expected."""
    text = settings_file.read(path)
    return settings_file.validated(Printer, settings_file.parse(text, path), text, path)
