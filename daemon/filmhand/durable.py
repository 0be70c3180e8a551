"""Writing so that it is still there after the power went: fsync of files and folders, and the one rename that moves ownership.

POSIX promises nothing about a name until its folder is synced; hence the order everywhere: bytes, file, rename, folder.
"""

import errno
import hashlib
import os
import shutil
from contextlib import suppress
from pathlib import Path
from typing import Final

_CHUNK: Final = 1 << 20


def sync_file(path: Path) -> None:
    """Bring a file's bytes to the disk. OSError when the disk says no: the file must then be made again, not synced again."""
    descriptor = os.open(path, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def sync_folder(path: Path) -> None:
    """Bring a folder's names to the disk. Where folders cannot be opened (Windows) the file system keeps its own order."""
    if os.name == "nt":
        return
    sync_file(path)


def sync_tree(folder: Path) -> None:
    """Bring every file of a folder, and its names, to the disk."""
    for entry in sorted(folder.iterdir()):
        if entry.is_dir():
            sync_tree(entry)
        else:
            sync_file(entry)
    sync_folder(folder)


def write(path: Path, data: bytes, *, by_several: bool = False) -> None:
    """Put `data` at `path` so that the name is either absent, old, or whole. `by_several`: other processes may do so as well."""
    part = path.with_name(f"{path.name}.{os.getpid()}.part" if by_several else f"{path.name}.part")
    with part.open("wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    part.replace(path)
    sync_folder(path.parent)


def copy(source: Path, target: Path) -> None:
    """A durable copy under a new name, by hard link where the file system allows. The caller syncs the target's folder."""
    try:
        os.link(source, target)
    except OSError as problem:
        if problem.errno == errno.EEXIST:
            raise
        shutil.copyfile(source, target)
        sync_file(target)


def rename(source: Path, target: Path) -> None:
    """Move ownership by one rename inside a file system, then sync both folders. FileExistsError if the name is taken."""
    if os.path.lexists(target):
        raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(target))
    source.rename(target)
    sync_folder(target.parent)
    if source.parent != target.parent:
        sync_folder(source.parent)


def make_folder(folder: Path) -> None:
    """A folder whose name survives a power cut, with its parents."""
    if folder.is_dir():
        return
    make_folder(folder.parent)
    folder.mkdir(exist_ok=True)
    sync_folder(folder.parent)


def empty_folder(folder: Path) -> None:
    """A folder of our own with nothing in it: made, or emptied. What lies in it goes, not the folder itself."""
    folder.mkdir(parents=True, exist_ok=True)
    for path in folder.iterdir():
        if path.is_dir() and not path.is_symlink():
            shutil.rmtree(path)
        else:
            path.unlink()


def remove_tree(folder: Path) -> None:
    """Remove a folder of our own, if it is there."""
    if folder.is_dir() and not folder.is_symlink():
        shutil.rmtree(folder)


def size_of(folder: Path) -> int:
    """Bytes in a folder's files and those of the folders in it. What goes meanwhile is left out; links are not followed."""
    return sum(size for parent, _, names in os.walk(folder) for name in names if (size := _size(Path(parent, name))))


def used(path: Path) -> None:
    """Note that a kept file was used now: many disks are mounted so that reading one leaves no trace."""
    with suppress(OSError):
        os.utime(path)


def _size(path: Path) -> int:
    try:
        return path.lstat().st_size
    except FileNotFoundError:
        return 0


def sha256_of(path: Path) -> str:
    """SHA-256 of a file, in hexadecimal."""
    digest = hashlib.sha256()
    with path.open("rb", buffering=0) as file:
        while block := file.read(_CHUNK):
            digest.update(block)
    return digest.hexdigest()
