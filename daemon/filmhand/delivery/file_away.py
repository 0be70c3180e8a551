"""Laying a job's folder under held/ or rejects/, and an original under done/: built aside, synced, then one rename.

Each may be repeated after a crash at any point: the name was chosen and committed before, and what is already there is ours.
"""

import os
import shutil
from contextlib import suppress
from pathlib import Path
from typing import Final, NamedTuple

from filmhand import durable
from filmhand.delivery.note import Note, page_of, write_note
from filmhand.journal.records import shown

BUILDING: Final = ".filmhand-building"
"""Hidden folder beside the final ones, on the same mount, in which a folder is built."""

_LONGEST: Final = 120
_LONGEST_ENDING: Final = 10
_FORBIDDEN: Final = set('/\\:*?"<>|')
_RESERVED: Final = {"con", "prn", "aux", "nul", *(f"{port}{n}" for port in ("com", "lpt") for n in range(1, 10))}


def safe_name(shown_name: str) -> str:
    """A file name that every file system takes and no shell trips over, still readable as the customer's."""
    kept = "".join("_" if sign in _FORBIDDEN or not sign.isprintable() else sign for sign in shown_name).strip(" .")
    kept = kept.lstrip("-") or "unnamed"
    stem, dot, ending = kept.rpartition(".")
    if dot and len(ending) <= _LONGEST_ENDING:
        kept = f"{_cut(stem, _LONGEST - len(ending.encode()) - 1)}.{ending}"
    kept = _cut(kept, _LONGEST)
    return f"_{kept}" if kept.split(".")[0].lower() in _RESERVED else kept


def _cut(text: str, most_bytes: int) -> str:
    """The text's start that takes at most so many bytes in UTF-8: file systems count bytes."""
    return text.encode()[:most_bytes].decode("utf-8", "ignore")


def free_place(parent: Path, shown_name: str, *, job: str, taken: frozenset[str]) -> str:
    """A name under `parent` that nothing has and no job has chosen: the file's own, or with the job's id."""
    name = safe_name(shown_name)
    if name not in taken and not os.path.lexists(parent / name):
        return name
    return with_id(name, job)


def with_id(name: str, job: str) -> str:
    """A safe name with a job's id before its ending: no other job can have it."""
    stem, dot, ending = name.rpartition(".")
    return f"{stem}~{job}.{ending}" if dot else f"{name}~{job}"


class Pictures(NamedTuple):
    """Those of a note, as PNG: with what was seen marked, and as the artwork came before it was mended."""

    marked: bytes | None
    before: bytes | None


def file_folder(original: Path, target: Path, note: Note, *, pictures: Pictures) -> None:
    """Lay the original, the note and its pictures at `target`, whole or not at all."""
    if target.is_dir():
        return  # we made it before a crash: the name was ours alone
    building = target.parent / BUILDING / note.job
    durable.remove_tree(building)
    building.mkdir(parents=True)
    durable.copy(original, building / safe_name(shown(note.file)))
    write_note(note, building, picture=pictures.marked, before=pictures.before)
    durable.sync_tree(building)
    durable.make_folder(target.parent)
    durable.rename(building, target)


def file_original(original: Path, target: Path) -> None:
    """Lay an original at `target` under done/, whole or not at all."""
    if os.path.lexists(target):
        return  # the rename happened before a crash
    durable.make_folder(target.parent)
    part = target.parent / f".{target.name}.part"
    part.unlink(missing_ok=True)
    durable.copy(original, part)
    durable.rename(part, target)


def file_page(target: Path, note: Note, *, pictures: Pictures) -> None:
    """Lay a note as one page at `target`, beside an original under done/."""
    durable.write(target, page_of(note, picture=pictures.marked, before=pictures.before).encode())


def remove_folder(folder: Path) -> None:
    """Take a folder of ours away so that it is either whole or gone to a person looking on."""
    if not folder.is_dir():
        return
    building = folder.parent / BUILDING
    building.mkdir(exist_ok=True)
    grave = building / f"removed-{folder.name}"
    durable.remove_tree(grave)
    folder.rename(grave)
    shutil.rmtree(grave)
    with suppress(OSError):  # something else is being built there
        building.rmdir()
