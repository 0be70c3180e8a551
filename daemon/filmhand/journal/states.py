"""Every legal state of a job and of a sheet, what is true in it, and which may follow.

The tables in docs/internals.md are tested against this.
"""

from collections.abc import Mapping
from enum import StrEnum
from typing import Final


class JobStage(StrEnum):
    """Where a job is. The original lies in the spool until the job's last stage names another place."""

    CLAIMED = "claimed"
    """The spool has the original; preparing it comes next, or is being tried (its attempt was counted before it began)."""
    EXPECTING = "expecting"
    """An order list, or a ticket alone: the spool has it, its lines wait for the artwork that they name."""
    SPENT = "spent"
    """What it held, or ordered, has become jobs of its own; its name under done/ is chosen."""
    WAITING = "waiting"
    """The separation is in the cache; some copies lie on no sheet yet."""
    SHEETED = "sheeted"
    """Every copy lies on a sheet; not every sheet is delivered."""
    DELIVERED = "delivered"
    """Every copy was handed over; the original is still in the spool, its name under done/ is chosen."""
    ARCHIVED = "archived"
    """The original lies under done/. Last."""
    HOLDING = "holding"
    """A person must decide; the folder under held/ has a chosen name and may or may not be there yet."""
    HELD = "held"
    """The folder under held/ is complete; the spool still has the original."""
    REJECTING = "rejecting"
    """It goes back; the folder under rejects/ has a chosen name and may or may not be there yet."""
    REJECTED = "rejected"
    """The folder under rejects/ is complete and has the original. Last."""


class SheetStage(StrEnum):
    """Where a gang sheet is."""

    OPEN = "open"
    """Copies of its hot folder wait; nothing is laid out yet."""
    SEALED = "sealed"
    """Placements and the copies' states were committed together; composing comes next, or is being tried."""
    STAGED = "staged"
    """Composed, synced, read back, under its final name in the staging folder. Never composed again."""
    DELIVERING = "delivering"
    """The boot id is committed; the one rename into out/ may or may not have happened."""
    DELIVERED = "delivered"
    """The rename happened and both folders are synced. Last."""
    HELD = "held"
    """A person must decide: it may have been printed, or it could not be laid out or composed."""
    CANCELLED = "cancelled"
    """Will not be printed; its copies wait again. Last."""


JOB_MOVES: Final[Mapping[JobStage, frozenset[JobStage]]] = {
    JobStage.CLAIMED: frozenset({JobStage.WAITING, JobStage.HOLDING, JobStage.REJECTING, JobStage.SPENT}),
    JobStage.EXPECTING: frozenset({JobStage.SPENT, JobStage.REJECTING}),
    JobStage.SPENT: frozenset({JobStage.ARCHIVED}),
    JobStage.WAITING: frozenset({JobStage.SHEETED, JobStage.CLAIMED}),
    JobStage.SHEETED: frozenset({JobStage.DELIVERED, JobStage.WAITING}),
    JobStage.DELIVERED: frozenset({JobStage.ARCHIVED}),
    JobStage.ARCHIVED: frozenset(),
    JobStage.HOLDING: frozenset({JobStage.HELD}),
    JobStage.HELD: frozenset({JobStage.CLAIMED, JobStage.REJECTING}),
    JobStage.REJECTING: frozenset({JobStage.REJECTED}),
    JobStage.REJECTED: frozenset(),
}

SHEET_MOVES: Final[Mapping[SheetStage, frozenset[SheetStage]]] = {
    SheetStage.OPEN: frozenset({SheetStage.SEALED, SheetStage.HELD, SheetStage.CANCELLED}),
    SheetStage.SEALED: frozenset({SheetStage.STAGED, SheetStage.HELD}),
    SheetStage.STAGED: frozenset({SheetStage.DELIVERING, SheetStage.HELD}),
    SheetStage.DELIVERING: frozenset({SheetStage.DELIVERED, SheetStage.HELD}),
    SheetStage.DELIVERED: frozenset(),
    SheetStage.HELD: frozenset(
        {SheetStage.OPEN, SheetStage.SEALED, SheetStage.STAGED, SheetStage.DELIVERED, SheetStage.CANCELLED}
    ),
    SheetStage.CANCELLED: frozenset(),
}

ACTIVE_JOBS: Final = tuple(stage for stage, following in JOB_MOVES.items() if following)
ACTIVE_SHEETS: Final = tuple(stage for stage, following in SHEET_MOVES.items() if following)
