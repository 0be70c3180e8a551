"""How long originals stay under done/: whole day folders go, the oldest first, never today's. A pure choice, then the removal."""

import os
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import islice
from pathlib import Path
from typing import Final

import structlog

from filmhand import durable

_log = structlog.get_logger()

_DAY: Final = re.compile(r"\d{4}-\d\d-\d\d")
_GOING: Final = ".filmhand-going-"
"""What begins the name of a day that is being removed."""
_FILES_A_STEP: Final = 500
"""So that the removal of a large day does not hold the loop up."""


@dataclass(frozen=True)
class Day:
    """The folder of a day, which holds files alone."""

    changed_ns: int
    """When a file last came to it or went."""
    size_bytes: int | None
    """None: not measured yet."""


def choose(days: Mapping[date, int], *, today: date, keep_days: int, keep_bytes: int) -> tuple[date, ...]:
    """Days to remove, of days with their bytes: those that are too old, then as many of the oldest as make the rest fit.

    Pure. 0 days, or 0 bytes: for ever. Today and what claims to be later never goes.
    """
    past = sorted(day for day in days if day < today)
    going = [day for day in past if keep_days and day < today - timedelta(days=keep_days)]
    too_much = sum(days.values()) - sum(days[day] for day in going) - keep_bytes if keep_bytes else 0
    for day in past[len(going) :]:
        if too_much <= 0:
            break
        going.append(day)
        too_much -= days[day]
    return tuple(going)


def look(done: Path, before: Mapping[date, Day], *, most: int) -> dict[date, Day]:
    """The day folders, each with its bytes unless it is one of more than `most` that were not measured `before`.

    Anything else under done/ is not ours to remove.
    """
    found = {}
    with os.scandir(done) as entries:
        for entry in entries:
            day = _day(entry.name)
            if day is None or not entry.is_dir(follow_symlinks=False):
                continue
            changed_ns = entry.stat(follow_symlinks=False).st_mtime_ns
            known = before.get(day)
            if known is None or known.size_bytes is None or known.changed_ns != changed_ns:
                known = Day(changed_ns, durable.size_of(Path(entry.path)) if most > 0 else None)
                most -= 1
            found[day] = known
    return found


def set_going(done: Path, day: date) -> None:
    """Take a day from view; it is removed from there, bit by bit. OSError: try again later."""
    (done / day.isoformat()).rename(done / f"{_GOING}{day.isoformat()}")
    durable.sync_folder(done)
    _log.info("originals of a day are removed, as shop.toml says", day=day.isoformat())


def remove_some(done: Path) -> bool:
    """Remove some files of a day that is going; whether there may be more. OSError: try again later."""
    going = next((path for path in done.glob(f"{_GOING}*") if path.is_dir() and not path.is_symlink()), None)
    if going is None:
        return False
    files = list(islice((path for path in going.rglob("*") if path.is_symlink() or not path.is_dir()), _FILES_A_STEP))
    for path in files:
        path.unlink(missing_ok=True)
    if len(files) < _FILES_A_STEP:
        durable.remove_tree(going)
    return True


def _day(name: str) -> date | None:
    try:
        return date.fromisoformat(name) if _DAY.fullmatch(name) else None
    except ValueError:
        return None
