"""What a backup holds, as its manifest says: every file with size, mode and SHA-256. Reading one trusts nothing in it."""

import json
import os
import re
from collections.abc import Iterable
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import PurePosixPath
from typing import Any, Final
from urllib.parse import quote_from_bytes, unquote_to_bytes

from filmhand.errors import MachineError

MANIFEST: Final = "manifest.json"
VERSION: Final = 1

_SHA256: Final = re.compile(r"[0-9a-f]{64}")
_MODE: Final = 0o777
_OURS: Final = ".filmhand"
_NEVER: Final = ("in", "done", "rejects")
"""Folders of the shop of which a backup has nothing."""


@dataclass(frozen=True)
class Kept:
    """A file of a backup. `name` is its path in the shop, percent-encoded: names need not be text."""

    name: str
    size: int
    sha256: str
    mode: int


@dataclass(frozen=True)
class Manifest:
    """All of it."""

    made: datetime
    program: str
    files: tuple[Kept, ...]
    missing: tuple[str, ...] = ()
    """What the journal names and the shop has not."""

    @property
    def size(self) -> int:
        """Bytes of all files together."""
        return sum(kept.size for kept in self.files)


def name_of(path: PurePosixPath) -> str:
    """The name in a backup of a path relative to the shop."""
    return quote_from_bytes(os.fsencode(str(path)), safe="/ ")


def to_json(manifest: Manifest) -> bytes:
    """The manifest as it is written."""
    facts = asdict(manifest) | {"made": manifest.made.isoformat(), "version": VERSION}
    return json.dumps(facts, indent=1).encode()


def from_json(text: bytes) -> Manifest:
    """Read one. MachineError when it is none, of a newer kind, or names a file that does not belong in a shop."""
    try:
        facts = json.loads(text)
        version = int(facts["version"])
        files = tuple(_kept(one) for one in facts["files"]) if version <= VERSION else ()
        manifest = Manifest(datetime.fromisoformat(facts["made"]), str(facts["program"]), files, tuple(facts["missing"]))
    except (ValueError, KeyError, TypeError) as problem:
        raise _refused(f"its manifest cannot be read ({problem})") from None
    if version > VERSION:
        raise MachineError("This backup was made by a newer filmhand", next_step="Restore it with that one, or a newer")
    _check_names(kept.name for kept in manifest.files)
    return manifest


def path_of(name: str) -> PurePosixPath:
    """The path in the shop of a name in a backup. MachineError where it would lie outside, or where no backup writes."""
    text = os.fsdecode(unquote_to_bytes(name))
    parts = text.split("/")
    windows = os.name == "nt" and any(sign in text for sign in '\\:*?"<>|')
    if "\0" in text or windows or any(part in ("", ".", "..") for part in parts):
        raise _refused(f"it names a path outside the shop, {name!r}")
    is_state = parts[0] == _OURS and not (parts[1:] == ["journal.sqlite"] or (parts[1:2] == ["spool"] and len(parts) == 3))  # noqa: PLR2004
    if is_state or parts[0] in _NEVER:
        raise _refused(f"it names a file that no backup has, {name!r}")
    return PurePosixPath(*parts)


def _check_names(names: Iterable[str]) -> None:
    seen: set[PurePosixPath] = set()
    for name in names:
        path = path_of(name)
        if path in seen or name_of(path) != name:
            raise _refused(f"it names {name!r} twice, or not as filmhand does")
        seen.add(path)


def _kept(facts: Any) -> Kept:
    kept = Kept(str(facts["name"]), int(facts["size"]), str(facts["sha256"]), int(facts["mode"]) & _MODE)
    if kept.size < 0 or not _SHA256.fullmatch(kept.sha256):
        raise ValueError(f"what it says of {kept.name!r}")
    return kept


def _refused(why: str) -> MachineError:
    return MachineError(f"This is not a backup that filmhand made: {why}", next_step="Take another; nothing was written")
