"""What can go wrong on our side, sorted by who must act, and the exit code each gives.

A customer's fault is never an exception: it is a finding (preflight/finding.py). These are the rest.
"""

from enum import IntEnum
from functools import partial
from pathlib import Path


class ExitCode(IntEnum):
    """What the command line returns."""

    OK = 0
    """Done."""
    FOUND_FAULTS = 1
    """`check` found something that would hold or reject the file, or `doctor` something that may not go well for ever."""
    WRONG_USE = 2
    """The command's own words are off."""
    SETTINGS = 3
    """A rule, printer or shop file is wrong: the operator mends it."""
    BUSY = 4
    """Another filmhand has this shop."""
    NOT_FOUND = 5
    """No such shop, hot folder, job or sheet."""
    MACHINE = 6
    """Disk, memory, permissions: the machine's keeper acts."""
    JOURNAL = 7
    """The journal cannot be trusted or written; nothing more is done."""


class FilmhandError(Exception):
    """Something a person must know: what happened, to which file, what to do next."""

    exit_code = ExitCode.MACHINE

    def __init__(self, what: str, *, file: Path | str | None = None, next_step: str) -> None:
        super().__init__(what)
        self.what = what
        self.file = file
        self.next_step = next_step

    def __reduce__(self) -> tuple[object, ...]:
        """Pickled whole, for it may have to come back from a child process."""
        return partial(type(self), file=self.file, next_step=self.next_step), (self.what,)

    def __str__(self) -> str:
        where = f" ({self.file})" if self.file is not None else ""
        return f"{self.what}{where}. {self.next_step}"


class SettingsError(FilmhandError):
    """The operator wrote something that cannot be followed."""

    exit_code = ExitCode.SETTINGS


class ShopBusyError(FilmhandError):
    """One daemon a shop: another has the lock."""

    exit_code = ExitCode.BUSY


class NotFoundError(FilmhandError):
    """What was asked for by name is not there."""

    exit_code = ExitCode.NOT_FOUND


class MachineError(FilmhandError):
    """The disk, the memory or the permissions are in the way."""


class JournalError(FilmhandError):
    """The durable record is unusable, or says something that cannot be."""

    exit_code = ExitCode.JOURNAL
