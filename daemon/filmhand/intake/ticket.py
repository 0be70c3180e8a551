"""The job ticket: what is ordered. Lengths are text with a unit in a ticket file, and mm in the model."""

from datetime import datetime

from pydantic import BaseModel, ConfigDict, Field

from filmhand.rules import Hex, Mm


class Ticket(BaseModel):
    """What is ordered. Every key may be missing in a ticket file; the file's name and then the rule fill the rest.

    `width` or `height` is the printed size of the artwork, empty edges cut away; when both are given it is fitted inside them.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", str_strip_whitespace=True)

    copies: int | None = Field(default=None, ge=1, le=100_000)
    """How many are printed."""
    width: Mm | None = Field(default=None, gt=0)
    """Printed width."""
    height: Mm | None = Field(default=None, gt=0)
    """Printed height."""
    order: str | None = Field(default=None, max_length=200)
    """The shop's own number or name of the order."""
    garment: Hex | None = None
    """Colour of the garment, where it is not the rule's."""
    placement: str | None = Field(default=None, max_length=200)
    """Where on the garment; stands in the ticket of the sheet."""
    due: datetime | None = None
    """When it must be done: a date and time, without quotation marks in TOML, `2031-03-14T18:00:00`."""
    customer: str | None = Field(default=None, max_length=400)
    """Whom to write to."""
