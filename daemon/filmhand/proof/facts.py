"""What the ticket of a delivered sheet says that a proof needs."""

from pathlib import Path
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from filmhand.delivery.sheet_ticket import TICKET
from filmhand.errors import MachineError, NotFoundError
from filmhand.proof.plane_file import TAKE_ANOTHER


class _Said(BaseModel):
    model_config = ConfigDict(frozen=True, extra="ignore")


class Placed(_Said):
    """One copy, in mm of the delivered TIFF."""

    job: str
    order: str | None
    file: str
    copy_number: int = Field(alias="copy")
    copies: int
    garment: str = Field(pattern="^#[0-9a-fA-F]{6}$")
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    rotation_deg: float


class SheetFacts(_Said):
    """A delivered sheet. `inks`: its planes' letters, in print order."""

    sheet: str = Field(min_length=1)
    printer: str
    film_width_mm: float = Field(gt=0)
    length_mm: float = Field(gt=0)
    resolution: tuple[int, int]
    bits: Literal[1, 2, 8]
    inks: tuple[str, ...]
    mirrored: bool
    colour: Literal["nominal", "profile"]
    placements: tuple[Placed, ...]
    digests: dict[str, str]


def read_facts(folder: Path) -> SheetFacts:
    """The facts of the sheet in a folder. NotFoundError where there is none, MachineError where its ticket is damaged."""
    path = folder / TICKET
    try:
        return SheetFacts.model_validate_json(path.read_bytes())
    except FileNotFoundError:
        raise NotFoundError(
            f"There is no delivered sheet here: it has no {TICKET}",
            file=folder,
            next_step="Name the folder of a sheet, as it lies in the shop's out/ or wherever the print controller took it",
        ) from None
    except OSError as problem:
        raise MachineError(f"The sheet's ticket cannot be read: {problem.strerror}", file=path, next_step=TAKE_ANOTHER) from None
    except ValidationError as problem:
        first = problem.errors()[0]
        where = ".".join(str(part) for part in first["loc"])
        raise MachineError(f"The sheet's ticket is damaged: {where}: {first['msg']}", file=path, next_step=TAKE_ANOTHER) from None
