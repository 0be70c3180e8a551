"""A shop out of a backup. Everything is checked before anything is written, and nothing in the file is taken on trust.

Only regular files that the manifest names are unpacked, each as a new file below the shop's folder; the bytes must have the
digest that it states. shop.toml comes last: with it the folder is a shop.
"""

import hashlib
import os
import shutil
import stat
import zipfile
import zlib
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import IO, Final

from filmhand import durable
from filmhand.errors import MachineError, NotFoundError, SettingsError
from filmhand.journal import sheets
from filmhand.journal.journal import Journal
from filmhand.journal.snapshot import check
from filmhand.journal.states import SheetStage
from filmhand.shop import Shop
from filmhand.upkeep.manifest import MANIFEST, Kept, Manifest, from_json, path_of

_CHUNK: Final = 1 << 20
_MOST_MANIFEST: Final = 256 << 20
_LAST: Final = "shop.toml"


def restore(file: Path, root: Path, *, now: datetime) -> Manifest:
    """Make the shop `root`, which must not be there or be empty. Sheets that may have been printed since wait for a person."""
    root = root.absolute()
    _check_target(root)
    try:
        with zipfile.ZipFile(file) as archive:
            manifest = _checked(archive)
            _check_room(root, manifest)
            _unpack(archive, manifest, root)
    except FileNotFoundError as problem:
        raise NotFoundError("There is no such backup", file=problem.filename or file, next_step="Name another") from None
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError) as problem:
        raise MachineError(f"This backup is damaged: {problem}", file=file, next_step="Take another") from None
    shop = Shop.at(root)
    shop.make_folders()
    if shop.journal.exists():
        _settle_sheets(shop, made=manifest.made, now=now)
    durable.sync_tree(shop.root)
    return manifest


def _check_target(root: Path) -> None:
    if os.path.lexists(root) and (not root.is_dir() or any(path.name != "lost+found" for path in root.iterdir())):
        what = "There is a shop here already" if (root / _LAST).exists() else "There is something here already"
        raise SettingsError(what, file=root, next_step="Name a folder that is empty or not there; nothing was written")


def _checked(archive: zipfile.ZipFile) -> Manifest:
    """The manifest, once every entry was found to be a plain file that it names, with the bytes that it states."""
    infos = archive.infolist()
    names = [info.filename for info in infos]
    if MANIFEST not in names or archive.getinfo(MANIFEST).file_size > _MOST_MANIFEST:
        raise _refused("it has no manifest")
    manifest = from_json(archive.read(MANIFEST))
    mode_of = {info.filename: info.external_attr >> 16 for info in infos}
    if odd := [name for name, mode in mode_of.items() if stat.S_IFMT(mode) not in (0, stat.S_IFREG) or name.endswith("/")]:
        raise _refused(f"{odd[0]!r} in it is no plain file")
    named = {kept.name for kept in manifest.files} | {MANIFEST}
    if len(names) != len(set(names)) or not named <= set(names):
        raise _refused("its manifest and its files do not agree")
    for kept in manifest.files:
        with archive.open(kept.name) as source:
            _compare(kept, _copied(source, None, most=kept.size))
    return manifest


def _check_room(root: Path, manifest: Manifest) -> None:
    there = next(folder for folder in (root, *root.parents) if folder.is_dir())
    free = shutil.disk_usage(there).free
    if free < manifest.size:
        raise MachineError(
            f"The backup unpacks to {manifest.size >> 20} MiB, and {free >> 20} MiB are free", file=there, next_step="Make room"
        )


def _unpack(archive: zipfile.ZipFile, manifest: Manifest, root: Path) -> None:
    durable.make_folder(root)
    for kept in _in_order(manifest):
        target = root / path_of(kept.name)
        target.parent.mkdir(parents=True, exist_ok=True)
        descriptor = os.open(target, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o600)
        with os.fdopen(descriptor, "wb") as written, archive.open(kept.name) as source:
            _compare(kept, _copied(source, written, most=kept.size))
        target.chmod(kept.mode | stat.S_IRUSR | stat.S_IWUSR)


def _in_order(manifest: Manifest) -> Iterator[Kept]:
    yield from (kept for kept in manifest.files if kept.name != _LAST)
    yield from (kept for kept in manifest.files if kept.name == _LAST)


def _copied(source: IO[bytes], target: IO[bytes] | None, *, most: int) -> tuple[int, str]:
    """Size and digest of what was read, and written if there is a target: never more than a byte over `most` is looked at."""
    digest, size = hashlib.sha256(), 0
    while block := source.read(min(_CHUNK, most + 1 - size)):
        size += len(block)
        digest.update(block)
        if target is not None:
            target.write(block)
    return size, digest.hexdigest()


def _compare(kept: Kept, found: tuple[int, str]) -> None:
    if found != (kept.size, kept.sha256):
        raise MachineError(f"This backup is damaged: {kept.name} in it is not what was put in", next_step="Take another")


def _settle_sheets(shop: Shop, *, made: datetime, now: datetime) -> None:
    """Sheets laid out and not composed are laid out anew; those near the hand-over may have been printed since: a person says."""
    if faults := check(shop.journal):
        raise MachineError(f"The journal in this backup is damaged: {faults[0]}", next_step="Take another")
    why = f"restored from a backup of {made:%d %b %Y %H:%M}: it may have been printed since"
    with Journal.open(shop.journal) as journal:
        for sheet in sheets.by_stage(journal, SheetStage.SEALED, SheetStage.STAGED, SheetStage.DELIVERING, SheetStage.HELD):
            if sheet.stage is SheetStage.STAGED:
                sheets.delivering(journal, sheet.id, boot="", at=now)
            if sheet.stage is not SheetStage.HELD:
                current = sheets.find(journal, sheet.name)
                assert current is not None
                sheets.hold(journal, current, why, at=now)
            if SheetStage.SEALED in (sheet.stage, sheet.held_at):
                sheets.cancelled(journal, sheet.id, at=now)


def _refused(why: str) -> MachineError:
    return MachineError(f"This is not a backup that filmhand made: {why}", next_step="Take another; nothing was written")
