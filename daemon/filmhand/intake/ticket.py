"""The job ticket: what is ordered."""

from datetime import datetime

from pydantic import BaseModel, ConfigDict, Field

from filmhand.rules import Hex, Mm


class Ticket(BaseModel):
    """What is ordered. Every field may be missing in a sidecar; the file name and then the rule fill the rest.

    Lengths are text with a unit in a ticket file and mm here. `width` or `height` is the printed size of the artwork (trimmed);
    when both are given the artwork is fitted inside them.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", str_strip_whitespace=True)

    copies: int | None = Field(default=None, ge=1, le=100_000)
    width: Mm | None = Field(default=None, gt=0)
    height: Mm | None = Field(default=None, gt=0)
    order: str | None = Field(default=None, max_length=200)
    garment: Hex | None = None
    placement: str | None = Field(default=None, max_length=200)
    due: datetime | None = None
    customer: str | None = Field(default=None, max_length=400)
