"""The job ticket: what is ordered. Lengths are text with a unit in a ticket file, and mm in the model."""

from datetime import date, datetime, time
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field

from filmhand.rules import Hex, Mm


def _end_of_day(value: Any) -> Any:
    """A date alone means that day's end, so that work for the 14th is not late on the 14th."""
    if isinstance(value, str):
        try:
            value = date.fromisoformat(value.strip())
        except ValueError:
            return value
    is_date_alone = isinstance(value, date) and not isinstance(value, datetime)
    return datetime.combine(value, time(23, 59)) if is_date_alone else value


def _canonical(code: str) -> str:
    """The language's letters small, as in RFC 5646 section 2.1.1; "de_AT" as "de-AT"."""
    language, *rest = code.replace("_", "-").split("-")
    return "-".join((language.lower(), *rest))


Due = Annotated[datetime, BeforeValidator(_end_of_day)]
LanguageCode = Annotated[str, Field(pattern=r"^[A-Za-z]{2,3}([-_][A-Za-z0-9]{1,8})*$", max_length=35), AfterValidator(_canonical)]


class Ordered(BaseModel):
    """What is ordered, as it may be written. Every key may be missing; the file's name and then the rule fill the rest.

    `width` or `height` is the printed size of the artwork, empty edges cut away; when both are given it is fitted inside them.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", str_strip_whitespace=True, allow_inf_nan=False)

    copies: int | None = Field(default=None, ge=1, le=100_000)
    """How many are printed."""
    width: Mm | None = Field(default=None, gt=0)
    """Printed width."""
    height: Mm | None = Field(default=None, gt=0)
    """Printed height."""
    order: str | None = Field(default=None, max_length=200)
    """The shop's own number or name of the order."""
    garment: str | None = Field(default=None, max_length=200)
    """Colour of the garment, where it is not the rule's: "#" and six digits, or a name of `garments.toml`."""
    placement: str | None = Field(default=None, max_length=200)
    """Where on the garment: a word of `placements.toml`, which gives the size where none is written."""
    due: Due | None = None
    """When it must be done: a date, or a date and time, without quotation marks in TOML, `2031-03-14T18:00:00`."""
    rush: bool | None = None
    """True: its gang sheet is closed as soon as it is ready, whoever else is on it."""
    customer: str | None = Field(default=None, max_length=400)
    """Whom to write to."""
    language: LanguageCode | None = None
    """The customer's language, for the note: a code such as "de" or "es"."""


class Ticket(Ordered):
    """What is ordered, the shop's names looked up: `garment` is a colour."""

    garment: Hex | None = None
    garment_name: str | None = None
    """What the garment is called, where it was ordered by its name in `garments.toml`."""
    is_boxed: bool = False
    """Width and height come from `placements.toml`: a box to fit inside, which says nothing of the artwork's proportions."""
