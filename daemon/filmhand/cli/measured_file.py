"""Files that an instrument's program wrote: read, and what is wrong with one said with its name."""

from pathlib import Path

from filmhand.colour.measured.read import read_chart
from filmhand.colour.measured.readings import Readings
from filmhand.errors import NotFoundError, SettingsError


def measured_bytes(file: Path) -> bytes:
    """What is in the file. NotFoundError names it."""
    try:
        return file.read_bytes()
    except OSError as problem:
        raise NotFoundError(
            f"This file cannot be read: {problem.strerror}", file=file, next_step="Name the file that the measuring program wrote"
        ) from None


def measured_readings(file: Path, content: bytes, *, patch_list: bytes | None) -> Readings:
    """The readings in a file's content. SettingsError names the file."""
    try:
        return read_chart(content, patch_list=patch_list)
    except SettingsError as problem:
        problem.file = problem.file or file
        raise
