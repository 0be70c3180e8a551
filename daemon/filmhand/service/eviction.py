"""Keeping the cache within its size: what was used least lately goes, and can be made again. A pure choice, then the removal."""

import os
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

import structlog

from filmhand import durable
from filmhand.shop import TABLES

_log = structlog.get_logger()

PART: Final = ".part"
"""Ending of what is being made, or removed: what a crash leaves of it goes at the next start."""


@dataclass(frozen=True)
class Kept:
    """A file of the cache (a table, a tile, a layout, a picture of a job's note) or a folder (the separation of a job)."""

    name: str
    """From the cache on."""
    size_bytes: int
    used: float
    """When it was made or last used: POSIX time."""
    is_shared: bool = False
    """Whether several works may be reading it: a table, a tile, a layout."""

    @property
    def owner(self) -> str:
        """The id of the job to which it belongs, where it belongs to one."""
        return self.name.split(".")[0]


def choose(kept: Iterable[Kept], *, most_bytes: int, needed: Collection[str], at_work: bool) -> tuple[str, ...]:
    """Names of what must go for the rest to be within `most_bytes`, or of as much as may go. Pure.

    `needed`: ids of jobs of which nothing goes. `at_work`: child processes are; then nothing goes that is shared. What is half
    made never goes.
    """
    kept = list(kept)
    too_much = sum(one.size_bytes for one in kept) - most_bytes
    going = []
    for one in sorted(kept, key=lambda one: (one.used, one.name)):
        if too_much <= 0:
            break
        if not (one.name.endswith(PART) or one.owner in needed or (at_work and one.is_shared)):
            going.append(one.name)
            too_much -= one.size_bytes
    return tuple(going)


def evict(cache: Path, *, most_mib: int, needed: Collection[str], at_work: bool) -> int:
    """Make the cache as small as it must be; how many files and folders went. OSError: try again later."""
    going = choose(in_cache(cache), most_bytes=most_mib << 20, needed=needed, at_work=at_work)
    for name in going:
        path, part = cache / name, cache / f"{name}{PART}"
        if path.is_dir() and not path.is_symlink():
            durable.remove_tree(part)  # left by a removal that broke off
            path.rename(part)  # half a separation must not be taken for a whole one, whatever happens now
            durable.remove_tree(part)
        else:
            path.unlink(missing_ok=True)
    if going:
        _log.info("the cache was made smaller", limit=f"{most_mib} MiB", gone=len(going))
    return len(going)


def in_cache(cache: Path) -> list[Kept]:
    """What the cache has. What goes while it is being looked at is left out."""
    return [*_kept(cache, ""), *_kept(cache / TABLES, f"{TABLES}/")]


def _kept(folder: Path, prefix: str) -> Iterator[Kept]:
    with os.scandir(folder) as entries:
        for entry in entries:
            if not prefix and entry.name == TABLES:
                continue
            try:
                status = entry.stat(follow_symlinks=False)
                is_folder = entry.is_dir(follow_symlinks=False)
                size = durable.size_of(Path(entry.path)) if is_folder else status.st_size
            except FileNotFoundError:
                continue
            yield Kept(f"{prefix}{entry.name}", size, max(status.st_mtime, status.st_atime), bool(prefix))
