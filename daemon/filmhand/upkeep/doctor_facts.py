"""What `filmhand doctor` looks at. Nothing of the shop is changed: one small file is written, renamed and removed again.

Folders on dead shares may never answer, so each is asked by a thread of its own, for which nobody waits long.
"""

import getpass
import os
import platform
import sqlite3
import sys
import tempfile
from collections.abc import Callable, Iterable
from contextlib import suppress
from datetime import UTC, datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path, PurePosixPath
from threading import Thread
from typing import Final, TypeVar

from filmhand import __file__ as _here
from filmhand.colour.choose import ink_model
from filmhand.errors import FilmhandError
from filmhand.journal import schema
from filmhand.journal.snapshot import check, last_event
from filmhand.service.clock import Clock, boot_id
from filmhand.service.lock import is_held
from filmhand.service.notify_manager import HEALTHY_S, heartbeat_age
from filmhand.shop import House, Shop, ShopSettings, load_house
from filmhand.upkeep import mounts
from filmhand.upkeep.doctor import Disk, Facts, Folder, JournalFacts
from filmhand.upkeep.mounts import Mount
from filmhand.work.colour_files import check_every_rule
from filmhand.work.confine import offered

Found = TypeVar("Found")

_PATIENCE_S: Final = 5.0
_LIBRARIES: Final = ("filmhand", "numpy", "numba", "pillow", "imagecodecs", "tifffile", "watchdog")
_LIMIT: Final = Path("/proc/sys/fs/inotify/max_user_watches")
_TABLE: Final = Path("/proc/self/mountinfo")


def gather(shop: Shop, clock: Clock) -> Facts:
    """Everything that diagnose() asks for."""
    house, fault = _house(shop)
    settings = ShopSettings() if house is None else house.settings
    table = mounts.parse(_TABLE.read_text("utf-8", "surrogateescape")) if _TABLE.exists() else ()
    names = shop.hot_folders()
    own = [shop.root, shop.state, shop.spool, shop.cache, shop.logs, shop.requests, shop.done]
    per_rule = [parent / name for parent in (shop.inbox, shop.held, shop.rejects) for name in names]
    now = clock.now()
    return Facts(
        user=_user(),
        is_root=hasattr(os, "geteuid") and os.geteuid() == 0,
        folders=tuple(_folder(path, table) for path in (*own, *per_rule)),
        staging=_folder(shop.staging, table),
        handed=tuple(_folder(shop.out / name, table) for name in names),
        disks=tuple(_disks((shop.root, shop.spool, shop.staging))),
        least_mib=settings.least_free_mib,
        journal=_journal(shop.journal),
        journal_folder=_folder(shop.state, table),
        settings_fault=fault,
        now=now,
        made=datetime.fromtimestamp(Path(str(_here)).stat().st_mtime, UTC),
        zone=now.tzname() or "",
        running=is_held(shop.lock),
        beat_s=heartbeat_age(shop.heartbeat, boot=boot_id(), now=clock.monotonic()),
        hangs_after_s=HEALTHY_S,
        watches=_watches(shop),
        versions=_versions(),
        written=_try_to_write(shop.state),
        left_open=offered().missing,
    )


def within(seconds: float, ask: Callable[[], Found]) -> Found | None:
    """What `ask` returns; None where it takes longer, or fails. The thread that hangs is left behind."""
    found: list[Found] = []

    def run() -> None:
        with suppress(OSError):
            found.append(ask())

    thread = Thread(target=run, daemon=True)
    thread.start()
    thread.join(seconds)
    return found[0] if found else None


def _house(shop: Shop) -> tuple[House | None, str | None]:
    """All settings with the profiles that they name, or why they cannot be followed."""
    try:
        house = load_house(shop)
        for name, printer in house.printers.items():
            ink_model(printer, base=shop.printer_base(name))
        check_every_rule(house)
    except (FilmhandError, OSError) as problem:
        return None, str(problem)
    return house, None


def _folder(path: Path, table: Iterable[Mount]) -> Folder:
    exists = within(_PATIENCE_S, path.is_dir)
    if not exists:
        return Folder(str(path), answers=exists is not None, exists=False)
    mount = mounts.mount_of(PurePosixPath(path.resolve()), table)
    usable = os.access(path, os.R_OK | os.W_OK | os.X_OK)
    if mount is None:
        return Folder(str(path), usable=usable)
    return Folder(
        str(path),
        usable=usable,
        mount=str(mount.point),
        kind=mount.kind,
        network=mount.is_network,
        read_only=mount.read_only,
    )


def _disks(paths: Iterable[Path]) -> Iterable[Disk]:
    """Each file system once."""
    seen: set[int] = set()
    for path in paths:
        found = within(_PATIENCE_S, lambda path=path: (path.stat().st_dev, _disk(path)))  # type: ignore[misc]
        if found is not None and found[0] not in seen:
            seen.add(found[0])
            yield found[1]


def _disk(path: Path) -> Disk:
    if not hasattr(os, "statvfs"):
        import shutil  # noqa: PLC0415 -- where the system has no statvfs

        usage = shutil.disk_usage(path)
        return Disk(str(path), usage.free >> 20, usage.total >> 20)
    system = os.statvfs(path)
    free, total = system.f_bavail * system.f_frsize, system.f_blocks * system.f_frsize
    return Disk(str(path), free >> 20, total >> 20, system.f_favail if system.f_files else None)


def _journal(path: Path) -> JournalFacts:
    known = len(schema.STEPS)
    if not path.exists():
        return JournalFacts(str(path), known=known)
    beside = [path, *(other for ending in ("-wal", "-shm") if (other := path.with_name(path.name + ending)).exists())]
    writable = all(os.access(one, os.R_OK | os.W_OK) for one in beside)
    try:
        found, at = last_event(path)
        when = None if at is None else datetime.fromisoformat(at)
        return JournalFacts(str(path), found, known, check(path), writable, when)
    except (sqlite3.Error, ValueError) as problem:
        return JournalFacts(str(path), known=known, faults=(str(problem),) if writable else (), writable=writable)


def _try_to_write(folder: Path) -> str | None:
    """Why a file cannot be written, brought to the disk and renamed in a folder; a quota or a failing disk shows only so."""
    try:
        with tempfile.TemporaryDirectory(dir=folder, prefix="doctor-") as own:
            path = Path(own) / "trial"
            with path.open("wb") as file:
                file.write(bytes(1 << 16))
                file.flush()
                os.fsync(file.fileno())
            path.rename(path.with_name("renamed"))
    except OSError as problem:
        return str(problem)
    return None


def _watches(shop: Shop) -> tuple[int, int] | None:
    if not _LIMIT.exists():
        return None
    folders = within(_PATIENCE_S, lambda: sum(1 for top in shop.watched for _ in os.walk(top)))
    return (folders or 0, int(_LIMIT.read_text("ascii")))


def _versions() -> dict[str, str]:
    found = {"Python": platform.python_version(), "SQLite": sqlite3.sqlite_version, "system": sys.platform}
    for name in _LIBRARIES:
        try:
            found[name] = version(name)
        except PackageNotFoundError:
            found[name] = "not installed"
    return found


def _user() -> str:
    try:
        return getpass.getuser()
    except (KeyError, OSError):
        return "a user without a name"
