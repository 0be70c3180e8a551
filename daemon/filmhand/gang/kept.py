"""Folders made once and kept beside a prepared design, by whichever process is first."""

import os
import shutil
from collections.abc import Callable
from pathlib import Path

from filmhand import durable


def kept(folder: Path, fill: Callable[[Path], None]) -> Path:
    """The folder, made by `fill` if it is not there; it appears whole or not at all."""
    if not folder.is_dir():
        part = folder.with_name(f"{folder.name}.{os.getpid()}.part")
        shutil.rmtree(part, ignore_errors=True)
        part.mkdir()
        fill(part)
        durable.sync_tree(part)  # or a power cut could leave the name with nothing in it
        try:
            part.rename(folder)
        except OSError:  # another process was first
            if not folder.is_dir():
                raise
            shutil.rmtree(part)
    return folder
