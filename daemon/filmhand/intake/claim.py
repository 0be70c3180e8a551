"""Claim ①: how a file in a hot folder becomes ours. docs/internals.md has the table of what is true between the steps.

The bytes are copied and digested from one descriptor that was opened without following links; only when the journal row is
committed is the source moved aside inside its own file system, looked at again, and removed.
"""

import hashlib
import os
import stat
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from filmhand import durable
from filmhand.intake.listing import Entry, Fingerprint

ASIDE: Final = ".filmhand-aside"
"""Folder inside each hot folder to which a source goes for the instant between our copy and its removal."""

_CHUNK: Final = 1 << 20


@dataclass(frozen=True)
class Spooled:
    """A durable copy in the spool that no journal row owns yet."""

    path: Path
    fingerprint: Fingerprint
    digest: str


def spool(source: Path, entry: Entry, target: Path) -> Spooled | None:
    """Copy a settled source to `target` in the spool, durably. None when it is not what was listed, or still being written.

    OSError when the source cannot be read or the spool cannot be written; the partial copy is removed.
    """
    part = target.with_name(target.name + ".part")
    flags = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    try:
        descriptor = os.open(source, flags)
    except FileNotFoundError:
        return None
    try:
        before = os.fstat(descriptor)
        if not stat.S_ISREG(before.st_mode) or Fingerprint.of(before) != entry.fingerprint:
            return None
        digest = _copy(descriptor, part)
        if Fingerprint.of(os.fstat(descriptor)) != entry.fingerprint or part.stat().st_size != before.st_size:
            part.unlink()
            return None
    except OSError:
        part.unlink(missing_ok=True)
        raise
    finally:
        os.close(descriptor)
    part.rename(target)
    durable.sync_folder(target.parent)
    return Spooled(target, entry.fingerprint, digest)


def remove_source(source: Path, fingerprint: Fingerprint, aside_name: str) -> None:
    """Remove a source whose copy and row are durable. Safe to repeat at any point; a replacement is never touched.

    OSError when the folder does not let us: the source then stays, and is tried again.
    """
    aside = source.parent / ASIDE / aside_name
    if not os.path.lexists(aside):
        if not _is(source, fingerprint):
            return  # already removed, or another file has the name now: a new arrival
        aside.parent.mkdir(exist_ok=True)
        source.rename(aside)
    if _is(aside, fingerprint):
        aside.unlink()
        durable.sync_folder(aside.parent)
    else:
        _give_back(aside, source)
    durable.sync_folder(source.parent)


def _copy(descriptor: int, part: Path) -> str:
    digest = hashlib.sha256()
    with part.open("wb", buffering=0) as target:
        while block := os.read(descriptor, _CHUNK):
            digest.update(block)
            target.write(block)
        os.fsync(target.fileno())
    return digest.hexdigest()


def _is(path: Path, fingerprint: Fingerprint) -> bool:
    try:
        status = path.lstat()
    except FileNotFoundError:
        return False
    return stat.S_ISREG(status.st_mode) and Fingerprint.of(status) == fingerprint


def _give_back(aside: Path, source: Path) -> None:
    """What lies aside is not what we copied: it was put under the name in that instant, and is a new arrival."""
    target = source
    if os.path.lexists(target):
        target = source.with_name(f"{aside.name}-{source.name}")
    aside.rename(target)
