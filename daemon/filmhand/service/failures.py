"""An attempt that ended without a result: counted against its file, unless it was the disk that had no room."""

from datetime import datetime
from typing import Final

from filmhand.errors import MachineError
from filmhand.journal.journal import Journal
from filmhand.journal.moves import Subject, attempt_deferred, attempt_failed
from filmhand.work.capped import Cause, Failed

_MAY_BE_FOR_SPACE: Final = (Cause.SPACE, Cause.FAULT, Cause.DIED)
"""Libraries say of a short write that it was short and not why, and a mapped file that finds no room kills its process."""


def record(journal: Journal, subject: Subject, outcome: Failed, *, is_short: bool, at: datetime) -> None:
    """Note why there is no result. `is_short`: whether room on the disk was, at the end of the attempt.

    MachineError when it was for want of room: the attempt does not count, and the work is to be tried again later.
    """
    why = f"{outcome.cause}: {outcome.detail}"
    if is_for_space(outcome, is_short=is_short) and attempt_deferred(journal, subject, why, at=at):
        raise MachineError("There was no room on the disk", next_step="Make room; it is tried again, and this does not count")
    attempt_failed(journal, subject, why, at=at)


def is_for_space(outcome: Failed, *, is_short: bool) -> bool:
    """Whether work ended for want of room on the disk. Pure."""
    return outcome.cause is Cause.SPACE or (is_short and outcome.cause in _MAY_BE_FOR_SPACE)
