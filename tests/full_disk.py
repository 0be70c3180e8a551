"""Filling a disk to its last byte, and freeing it."""

import errno
import shutil
from pathlib import Path

_BLOCK = 1 << 20


def fill(disk: Path, leave: int = 0) -> None:
    """Take all room but so many bytes."""
    with (disk / "filler").open("ab", buffering=0) as file:
        try:
            while (room := shutil.disk_usage(disk).free - leave) > 0:
                file.write(bytes(min(room, _BLOCK)))
        except OSError as problem:
            if problem.errno != errno.ENOSPC:
                raise


def make_room(disk: Path) -> None:
    """Give back what was taken."""
    (disk / "filler").unlink(missing_ok=True)
