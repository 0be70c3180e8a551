"""A backup of a shop in one file, while its daemon works: the journal at one instant, and every file that its rows need.

The journal is copied first, then the files that it names. A file that is gone by then was moved on by the daemon, so the journal
is copied anew, until all that its copy names is in the backup. What can be made again is left out (the cache), and so is what has
its place elsewhere: hot folders belong to their writers, done/, rejects/ and out/ are results.
"""

import hashlib
import os
import shutil
import stat
import zipfile
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from importlib.metadata import version
from pathlib import Path, PurePosixPath
from tempfile import TemporaryDirectory
from typing import BinaryIO, Final

from filmhand import durable
from filmhand.errors import SettingsError
from filmhand.journal import jobs, sheets
from filmhand.journal.journal import Journal
from filmhand.journal.snapshot import snapshot
from filmhand.journal.states import ACTIVE_JOBS, JobStage, SheetStage
from filmhand.shop import Shop
from filmhand.upkeep.manifest import MANIFEST, Kept, Manifest, name_of, to_json

_TRIES: Final = 10
_CHUNK: Final = 1 << 20
_NOT_SETTINGS: Final = ("in", "held", "rejects", "out", "done", "proofs")
_JOURNAL: Final = PurePosixPath(".filmhand/journal.sqlite")


@dataclass(frozen=True)
class Needed:
    """What a copy of the journal says must be there, and what is taken along where it is; as paths of the shop."""

    must: frozenset[Path] = frozenset()
    may: frozenset[Path] = frozenset()


@dataclass
class _Archive:
    """The file that is being written."""

    file: zipfile.ZipFile
    root: Path
    kept: dict[Path, Kept] = field(default_factory=dict)

    def add(self, path: Path, *, follow: bool = False) -> bool:
        """Take a regular file along; whether it was there. What is in already is not read again."""
        if path in self.kept:
            return True
        flags = os.O_RDONLY | getattr(os, "O_BINARY", 0) | getattr(os, "O_NONBLOCK", 0)
        try:
            descriptor = os.open(path, flags if follow else flags | getattr(os, "O_NOFOLLOW", 0))
        except OSError as problem:
            if isinstance(problem, PermissionError):
                raise
            return False
        with os.fdopen(descriptor, "rb", buffering=0) as source:
            if stat.S_ISREG(os.fstat(descriptor).st_mode):
                self.kept[path] = self.write(PurePosixPath(path.relative_to(self.root).as_posix()), source)
        return path in self.kept

    def write(self, place: PurePosixPath, source: BinaryIO) -> Kept:
        """Take along what an open file has, as `place` of the shop."""
        digest, size, name = hashlib.sha256(), 0, name_of(place)
        with self.file.open(zipfile.ZipInfo(name), "w", force_zip64=True) as target:
            while block := source.read(_CHUNK):
                digest.update(block)
                size += len(block)
                target.write(block)
        return Kept(name, size, digest.hexdigest(), stat.S_IMODE(os.fstat(source.fileno()).st_mode) & 0o777)


def back_up(shop: Shop, target: Path, *, now: datetime) -> Manifest:
    """Write the backup `target`, readable by its owner alone. SettingsError where that cannot be a backup."""
    target = target.absolute()
    if target.exists() or target.is_relative_to(shop.root):
        why = "There is a file of this name already" if target.exists() else "A backup inside the shop is lost with it"
        raise SettingsError(why, file=target, next_step="Name another, with the day in it, on another disk")
    part = target.with_name(f"{target.name}.part")
    try:
        descriptor = os.open(part, os.O_RDWR | os.O_CREAT | os.O_TRUNC | getattr(os, "O_BINARY", 0), 0o600)
        with os.fdopen(descriptor, "w+b") as file, TemporaryDirectory(dir=target.parent) as desk:
            with zipfile.ZipFile(file, "w", zipfile.ZIP_STORED) as written:
                manifest = _fill(_Archive(written, shop.root), shop, Path(desk) / "journal", now=now)
                written.writestr(MANIFEST, to_json(manifest))
            file.flush()
            os.fsync(file.fileno())
        durable.rename(part, target)
    except BaseException:
        part.unlink(missing_ok=True)
        raise
    return manifest


def _fill(archive: _Archive, shop: Shop, copy: Path, *, now: datetime) -> Manifest:
    for path in _settings(shop.root):
        archive.add(path, follow=True)
    missing: list[Path] = []
    files = archive.kept
    if shop.journal.exists():
        missing = _add_rows(archive, shop, copy)
        with copy.open("rb") as source:
            files = {**archive.kept, shop.journal: archive.write(_JOURNAL, source)}
    names = tuple(str(path.relative_to(shop.root)) for path in missing)
    return Manifest(now, version("filmhand"), tuple(files.values()), names)


def _add_rows(archive: _Archive, shop: Shop, copy: Path) -> list[Path]:
    """Copies of the journal until all that one needs is in the archive; what even the last one needs and is nowhere."""
    gone: list[Path] = []
    for _ in range(_TRIES):
        before = gone
        copy.unlink(missing_ok=True)
        snapshot(shop.journal, copy)
        readable = shutil.copyfile(copy, copy.with_name("readable"))  # opening it may upgrade it; the backup keeps it as it was
        with Journal.open(readable) as journal:
            wanted = needed(shop, journal)
        gone = [path for path in sorted(wanted.must) if not archive.add(path)]
        for path in sorted(wanted.may):
            archive.add(path)
        if not gone or gone == before:  # twice the same: it did not move on, it is lost
            break
    return gone


def needed(shop: Shop, journal: Journal) -> Needed:
    """The files that rows need: originals and tickets of jobs that are not done, folders a person decides on, staged sheets."""
    must, may = set(), set()
    for job in jobs.by_stage(journal, *ACTIVE_JOBS):
        must.add(shop.spool / job.id)
        may.add(shop.spool / f"{job.id}.ticket")
        if job.stage is JobStage.HELD and job.place:
            may |= set(_files(shop.held / job.folder / job.place))
    for sheet in sheets.by_stage(journal, SheetStage.STAGED, SheetStage.DELIVERING, SheetStage.HELD):
        folder = shop.staging / sheet.name
        if sheet.stage is SheetStage.STAGED:
            must.add(folder / "ticket.json")
        may |= set(_files(folder))
    return Needed(frozenset(must), frozenset(may - must))


def _settings(root: Path) -> Iterator[Path]:
    """What an operator wrote or laid into the shop: settings, rules, printers, tables, profiles, catalogues."""
    for entry in sorted(root.iterdir()):
        if entry.name.startswith(".") or entry.name in _NOT_SETTINGS:
            continue
        yield from _files(entry) if entry.is_dir() and not entry.is_symlink() else (entry,)


def _files(folder: Path) -> Iterable[Path]:
    """Every file below a folder; links to folders are not gone into."""
    return (Path(parent) / name for parent, _, names in sorted(os.walk(folder)) for name in sorted(names))
