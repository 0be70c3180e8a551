"""A file that takes room for nothing, so that there is room for the journal when the disk is full: it is then removed."""

import os
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from filmhand import durable

SIZE_BYTES: Final = 4 << 20
"""Room for some hundred commits; SQLite folds its log into the journal after about as much (1,000 pages of 4 KiB)."""


@dataclass(frozen=True)
class Ballast:
    """The file, on the file system of the journal."""

    path: Path
    size_bytes: int = SIZE_BYTES

    @property
    def is_there(self) -> bool:
        """Whether it can still be spent."""
        return self.path.exists()

    def make(self) -> bool:
        """Make it, unless it is there or there is no room for it; whether it is there now.

        Its bytes are random: file systems that compress would give zeros no room.
        """
        if self.is_there:
            return True
        try:
            durable.write(self.path, os.urandom(self.size_bytes))
        except OSError:
            self.path.with_name(f"{self.path.name}.part").unlink(missing_ok=True)
        return self.is_there

    def spend(self) -> bool:
        """Remove it; whether that freed anything."""
        try:
            self.path.unlink()
        except OSError:
            return False
        return True
