"""Files that hold several artworks: the files of a ZIP archive, the pages of a PDF. Each becomes a job of its own."""

from pathlib import Path, PurePath
from typing import Final

from filmhand import durable
from filmhand.artwork.kind import HEAD_BYTES, is_zip, kind_of
from filmhand.artwork.model import Kind
from filmhand.artwork.pdf import pages_in
from filmhand.artwork.refusal import SEND_WHAT_WE_OPEN, unreadable
from filmhand.intake.unpack import Part, unpacked
from filmhand.preflight.finding import Finding, Severity
from filmhand.words import Phrase

CONTENTS: Final = "contents"

MOST_PAGES: Final = 200

_WITHIN: Final = Phrase("This is an archive inside an archive; only one is opened.")
_MANY_PAGES: Final = Phrase("The PDF has {count:,} pages; the most is {most:,}.")
_FEWER: Final = Phrase("Please send only the pages that are to be printed.")
_FILES: Final = Phrase("The archive holds {count} files; each is an order of its own.")
_PAGES: Final = Phrase("The PDF has {count} pages; each is an order of its own, with the copies that were ordered of the PDF.")


def contents(path: Path, folder: Path, *, name: str, is_part: bool) -> tuple[Part, ...] | Finding:
    """What a file holds, if that is more than one artwork; else nothing. The files of an archive are written into `folder`.

    `is_part`: the file came out of an archive itself. A finding (a reject) says why a container cannot be taken apart.
    """
    with path.open("rb") as file:
        head = file.read(HEAD_BYTES)
    if is_zip(head):
        return unreadable(_WITHIN(), SEND_WHAT_WE_OPEN()) if is_part else unpacked(path, folder)
    return _pages(path, name) if kind_of(head) is Kind.PDF else ()


def container_note(parts: tuple[Part, ...]) -> Finding:
    """What is said of a container that was taken apart."""
    form = _PAGES if parts[0].page else _FILES
    return Finding(CONTENTS, Severity.NOTE, form(count=len(parts)))


def _pages(path: Path, name: str) -> tuple[Part, ...] | Finding:
    count = pages_in(path)
    if isinstance(count, Finding):
        return ()  # opening it says what is wrong
    if count > MOST_PAGES:
        return unreadable(_MANY_PAGES(count=count, most=MOST_PAGES), _FEWER())
    if count == 1:
        return ()
    digest, size, named = durable.sha256_of(path), path.stat().st_size, PurePath(name)
    return tuple(Part(f"{named.stem}, page {page}{named.suffix}", "", page, digest, size) for page in range(1, count + 1))
