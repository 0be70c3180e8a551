"""A file's bytes as a read-only map: looked at without being read whole into memory."""

import mmap
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from filmhand.artwork.hole import Bytes
from filmhand.errors import MachineError


@contextmanager
def mapped(path: Path) -> Iterator[Bytes]:
    """The bytes of a file; of an empty one, none. MachineError where it cannot be read."""
    try:
        with path.open("rb") as file:
            view = mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ) if path.stat().st_size else b""
    except OSError as problem:
        raise MachineError(
            f"The artwork cannot be read: {problem.strerror}",
            file=path,
            next_step="Check the disk and the permissions of the shop's folders, then release the job",
        ) from problem
    try:
        yield view
    finally:
        if isinstance(view, mmap.mmap):
            view.close()
