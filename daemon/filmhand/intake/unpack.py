"""A ZIP of an order taken apart: every file in it becomes a file of ours, under a number; no path in it is ever followed.

ZIP: ISO/IEC 21320-1 and PKWARE's APPNOTE 6.3. What an archive says of itself may lie, so bytes are counted as they are written.
Its own names serve as names only. Folders that systems add of themselves are left out.
"""

import hashlib
import os
import stat
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path, PurePosixPath
from typing import IO, Final

from filmhand.artwork.refusal import unreadable
from filmhand.intake.listing import is_temporary
from filmhand.preflight.finding import Finding
from filmhand.words import Phrase, Words

MOST_FILES: Final = 500
MOST_BYTES: Final = 8 << 30
"""Together, unpacked: more than any night's artwork."""

MOST_RATIO: Final = 400
"""Times larger unpacked. Flat artwork stored raw shrinks a few hundred times; Deflate cannot go past 1,032 (RFC 1951)."""

_SMALL_BYTES: Final = 64 << 20
"""Up to this much together no ratio matters."""

_CHUNK: Final = 1 << 20
_LOCKED_FLAG: Final = 1  # APPNOTE 4.4.4: general purpose bit 0
_FOREIGN: Final = ("__macosx",)

_EMPTY: Final = Phrase("The archive holds no files.")
_TOO_MANY: Final = Phrase("The archive holds {count:,} files; the most is {most:,}.")
_TOO_LARGE: Final = Phrase("The archive holds more than {most:,} MB, or unpacks to more than {ratio} times its size.")
_LOCKED: Final = Phrase("The archive is locked with a password.")
_LINK: Final = Phrase("The archive holds a link to another place instead of a file ({name}).")
_DAMAGED: Final = Phrase("The archive is damaged or was cut short on its way.")
_STRANGE: Final = Phrase("The archive is packed in a way that cannot be opened.")
_PLAIN_FILES: Final = Phrase("Please send the files themselves, or a plain ZIP archive without a password that holds only them.")
_IN_PARTS: Final = Phrase("Please send it in several archives, or the files themselves.")


@dataclass(frozen=True)
class Part:
    """A file of an archive, or a page of a PDF, that becomes a job. `file`: its name in the folder; empty for a page."""

    name: str
    file: str
    page: int
    digest: str
    size_bytes: int


class _RefusedError(Exception):
    def __init__(self, message: Words, advice: Words) -> None:
        super().__init__(str(message))
        self.message, self.advice = message, advice


def unpacked(archive: Path, folder: Path) -> tuple[Part, ...] | Finding:
    """Write an archive's files into a new folder, or say why it is refused as a whole. OSError as the disk says."""
    folder.mkdir()
    try:
        with zipfile.ZipFile(archive) as opened:
            members = _members(opened, archive.stat().st_size)
            return tuple(_written(opened, member, folder / f"{place:04d}") for place, member in enumerate(members))
    except _RefusedError as refused:
        return unreadable(refused.message, refused.advice)
    except (zipfile.BadZipFile, EOFError, zlib.error, ValueError):
        return unreadable(_DAMAGED())
    except (NotImplementedError, RuntimeError):
        return unreadable(_STRANGE(), _PLAIN_FILES())


def _members(opened: zipfile.ZipFile, packed_bytes: int) -> list[zipfile.ZipInfo]:
    """What is to be unpacked, judged by what the archive says of itself."""
    members = [member for member in opened.infolist() if not member.is_dir() and not _is_foreign(member.filename)]
    if not members:
        raise _RefusedError(_EMPTY(), _PLAIN_FILES())
    if len(members) > MOST_FILES:
        raise _RefusedError(_TOO_MANY(count=len(members), most=MOST_FILES), _IN_PARTS())
    for member in members:
        if member.flag_bits & _LOCKED_FLAG:
            raise _RefusedError(_LOCKED(), _PLAIN_FILES())
        if stat.S_ISLNK(member.external_attr >> 16):  # APPNOTE 4.4.15, as Unix systems fill it
            raise _RefusedError(_LINK(name=_name(member)), _PLAIN_FILES())
    total = sum(member.file_size for member in members)
    if total > MOST_BYTES or total > max(_SMALL_BYTES, MOST_RATIO * packed_bytes):
        raise _RefusedError(_TOO_LARGE(most=MOST_BYTES >> 20, ratio=MOST_RATIO), _IN_PARTS())
    return members


def _is_foreign(path: str) -> bool:
    parts = _parts(path)
    return not parts or parts[0].lower() in _FOREIGN or is_temporary(parts[-1])


def _parts(path: str) -> tuple[str, ...]:
    """The names in a path, whatever it is written with, without those that lead elsewhere."""
    return tuple(part for part in PurePosixPath(path.replace("\\", "/").replace("\0", "")).parts if part not in ("/", "..", "."))


def _name(member: zipfile.ZipInfo) -> str:
    return _parts(member.filename)[-1]


def _written(opened: zipfile.ZipFile, member: zipfile.ZipInfo, target: Path) -> Part:
    digest, size = hashlib.sha256(), 0
    with opened.open(member) as source, target.open("xb", buffering=0) as file:
        for block in _blocks(source):
            size += len(block)
            if size > member.file_size:  # zipfile stops there by itself; this is the promise in our own words
                raise _RefusedError(_DAMAGED(), _PLAIN_FILES())
            digest.update(block)
            file.write(block)
        os.fsync(file.fileno())
    return Part(_name(member), target.name, 0, digest.hexdigest(), size)


def _blocks(source: IO[bytes]) -> Iterator[bytes]:
    while block := source.read(_CHUNK):
        yield block
