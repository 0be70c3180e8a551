"""What is in a hot folder now: names and fingerprints, without following links and without opening anything that could block."""

import os
import re
import stat
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from typing import Final

TICKET_ENDINGS: Final = (".ticket.toml", ".ticket.json")
LIST_ENDINGS: Final = (".csv", ".tsv", ".xjdf")

_TEMPORARY_ENDINGS: Final = (
    *(".part", ".partial", ".crdownload", ".download", ".opdownload", ".unfinished", ".tmp", ".temp"),  # browsers
    *(".filepart", ".aria2", ".!ut", ".!qb", ".bc!", ".lftp-pget-status", ".rsync-tmp"),  # transfers
    *(".swp", ".swx", ".kate-swp", ".lock", "~", "#"),  # editors
)
_TEMPORARY_STARTS: Final = (".", "~$", "~lock.", "~syncthing~", "@", "#")
_TEMPORARY_NAMES: Final = frozenset(
    {"thumbs.db", "ehthumbs.db", "desktop.ini", "readme.txt", "icon\r", "$recycle.bin", "system volume information", "lost+found"}
)
_SAFE_SAVE: Final = re.compile(r"\.sb-[0-9a-f]{8}-\w{6}$")  # how macOS calls a file while a program saves over it
_END_BYTES: Final = 64
_PNG_START: Final = b"\x89PNG\r\n\x1a\n"
_PNG_END: Final = b"IEND\xaeB`\x82"  # PNG (ISO/IEC 15948) section 11.2.5: an empty IEND chunk with its CRC
_JPEG_START: Final = b"\xff\xd8\xff"
_JPEG_END: Final = b"\xff\xd9"  # EOI, ITU-T T.81 table B.1


class EntryKind(StrEnum):
    """What a name in a hot folder stands for."""

    FILE = "file"
    TICKET = "ticket"
    """The ticket of one artwork, beside it."""
    LIST = "list"
    """A list of orders, each of which names its artwork."""
    FOREIGN = "foreign"
    """A folder, link, pipe or device: never followed, never opened."""


@dataclass(frozen=True)
class Fingerprint:
    """What must stay the same for a file to count as unchanged."""

    device: int
    inode: int
    size: int
    mtime_ns: int

    @classmethod
    def of(cls, status: os.stat_result) -> "Fingerprint":
        """From what the system says of a file."""
        return cls(status.st_dev, status.st_ino, status.st_size, status.st_mtime_ns)


@dataclass(frozen=True)
class Entry:
    """One name in a hot folder."""

    folder: str
    name: str
    kind: EntryKind
    fingerprint: Fingerprint


def list_folder(path: Path, folder: str) -> tuple[Entry, ...]:
    """Every entry of a hot folder that is not a temporary name, by name. OSError when the folder cannot be listed."""
    entries = []
    with os.scandir(path) as scan:
        for item in scan:
            if is_temporary(item.name):
                continue
            try:
                status = item.stat(follow_symlinks=False)
            except FileNotFoundError:  # gone between the listing and the look: as if it never was
                continue
            entries.append(Entry(folder, item.name, _kind(item.name, status.st_mode), Fingerprint.of(status)))
    return tuple(sorted(entries, key=lambda entry: os.fsencode(entry.name)))


def is_temporary(name: str) -> bool:
    """Names that browsers, editors and sync tools use while a file is not there yet (common practice, no source)."""
    low = name.lower()
    return (
        low.startswith(_TEMPORARY_STARTS)
        or low.endswith(_TEMPORARY_ENDINGS)
        or low in _TEMPORARY_NAMES
        or bool(_SAFE_SAVE.search(low))
    )


def looks_finished(path: Path, size: int) -> bool:
    """Whether a file's end looks written: PNG and JPEG end with their marker, others not with zeros.

    Nothing is concluded from it but how long to wait: copiers that set the final size first leave zeros at the end.
    """
    descriptor = os.open(path, os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0))
    with os.fdopen(descriptor, "rb", buffering=0) as file:
        start = file.read(8)
        file.seek(max(0, size - _END_BYTES))
        end = file.read(_END_BYTES)
    if start == _PNG_START:
        return end.endswith(_PNG_END)
    if start.startswith(_JPEG_START):
        return _JPEG_END in end
    return bool(end.strip(b"\0"))


def _kind(name: str, mode: int) -> EntryKind:
    if not stat.S_ISREG(mode):
        return EntryKind.FOREIGN
    return kind_of_name(name)


def kind_of_name(name: str) -> EntryKind:
    """What a regular file is to us by its name."""
    if name.lower().endswith(TICKET_ENDINGS):
        return EntryKind.TICKET
    return EntryKind.LIST if name.lower().endswith(LIST_ENDINGS) else EntryKind.FILE
