"""Claim ①: how a file in a hot folder becomes ours. docs/internals.md has the table of what is true between the steps.

The bytes are copied and digested from one descriptor that was opened without following links; only when the journal row is
committed is the source moved aside inside its own file system, looked at again, and removed.
"""

import hashlib
import os
import stat
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Final

from filmhand import durable
from filmhand.intake.listing import Entry, Fingerprint
from filmhand.marker import check_marker

ASIDE: Final = ".filmhand-aside"
"""Folder inside each hot folder to which a source goes for the instant between our copy and its removal."""

_CHUNK: Final = 1 << 20
_FLAGS: Final = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
"""No link is followed and no pipe waited for, whatever was put under the name since it was looked at."""


@dataclass(frozen=True)
class Spooled:
    """A durable copy in the spool, and what the file was that it was made of."""

    path: Path
    fingerprint: Fingerprint
    digest: str


def spool(source: Path, entry: Entry, target: Path) -> Spooled | None:
    """Copy a settled source to `target` in the spool, durably. None when it is not what was listed, or still being written.

    OSError when the source cannot be read or the spool cannot be written; the partial copy is removed.
    """
    part = target.with_name(target.name + ".part")
    try:
        descriptor = os.open(source, _FLAGS)
    except FileNotFoundError:
        return None
    try:
        before = os.fstat(descriptor)
        if not stat.S_ISREG(before.st_mode) or Fingerprint.of(before) != entry.fingerprint:
            return None
        digest = _copy(descriptor, part)
        after = (os.fstat(descriptor), source.lstat())  # by its name too: it may have been renamed or replaced meanwhile
        if any(Fingerprint.of(look) != entry.fingerprint for look in after) or part.stat().st_size != before.st_size:
            part.unlink()
            return None
    except FileNotFoundError:
        part.unlink(missing_ok=True)
        return None
    except OSError:
        part.unlink(missing_ok=True)
        raise
    finally:
        os.close(descriptor)
    part.rename(target)
    durable.sync_folder(target.parent)
    return Spooled(target, entry.fingerprint, digest)


def remove_source(source: Path, copied: Spooled, aside_name: str, *, is_marked: bool = False) -> None:
    """Remove a source whose copy and row are durable. Safe to repeat at any point; a replacement is never touched.

    OSError when the folder does not let us, or (`is_marked`) is offline: the source then stays, and is tried again.
    """
    aside = source.parent / ASIDE / aside_name
    if not os.path.lexists(aside):
        is_there = _is(source, copied)
        if not is_there and is_marked:
            check_marker(source.parent)
        if not is_there:
            return  # already removed, or another file has the name now: a new arrival
        aside.parent.mkdir(exist_ok=True)
        source.rename(aside)
    if _is(aside, copied):
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


def _is(path: Path, copied: Spooled) -> bool:
    """Whether a file is the one that we copied. One whose time alone is new is looked into: a touch makes no new artwork."""
    try:
        status = path.lstat()
    except FileNotFoundError:
        return False
    now = Fingerprint.of(status)
    if not stat.S_ISREG(status.st_mode) or replace(now, mtime_ns=copied.fingerprint.mtime_ns) != copied.fingerprint:
        return False
    return now == copied.fingerprint or _has_bytes(path, now, copied.digest)


def _has_bytes(path: Path, expected: Fingerprint, digest: str) -> bool:
    """Whether it is still that file, and has the bytes of that digest."""
    with os.fdopen(os.open(path, _FLAGS), "rb", buffering=0) as file:
        return Fingerprint.of(os.fstat(file.fileno())) == expected and hashlib.file_digest(file, "sha256").hexdigest() == digest


def _give_back(aside: Path, source: Path) -> None:
    """What lies aside is not what we copied: it was put under the name in that instant, and is a new arrival."""
    target = source
    if os.path.lexists(target):
        target = source.with_name(f"{aside.name}-{source.name}")
    aside.rename(target)
