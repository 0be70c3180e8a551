"""The marker file: what tells a folder that is there from the empty mount point of a share that is not."""

import errno
import os
from pathlib import Path
from typing import Final

from filmhand import durable

MARKER: Final = ".filmhand-marker"

_TEXT: Final = (
    "By this file filmhand knows that this folder is there.\n"
    "Where it is missing, the folder counts as offline: an unmounted share looks like an empty folder.\n"
)


def has_marker(folder: Path) -> bool:
    """Whether the marker lies in a folder; a folder that does not answer has none."""
    return os.path.lexists(folder / MARKER)


def put_marker(folder: Path) -> bool:
    """Put the marker in a folder, durably; whether it lies there now. A folder that cannot be written does without."""
    try:
        durable.write(folder / MARKER, _TEXT.encode())
    except OSError:
        return has_marker(folder)
    return True


def check_marker(folder: Path) -> None:
    """OSError when the marker is gone: then nothing may be concluded from what the folder does not show."""
    if not has_marker(folder):
        raise FileNotFoundError(errno.ENOENT, f"the folder is offline, its {MARKER} is gone", str(folder))
