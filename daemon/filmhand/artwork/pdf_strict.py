"""A PDF read strictly by qpdf: nothing is rebuilt, and what does not agree with the standard is said.

Renderers rebuild a damaged PDF from what is left of it and say nothing, so they come second.
"""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Generic, TypeVar

import pikepdf

from filmhand.artwork.model import Kind
from filmhand.artwork.pdf_objects import READING_ERRORS, entry, number
from filmhand.artwork.refusal import CANNOT_BE_OPENED, damaged, unreadable
from filmhand.preflight.finding import Finding, Severity
from filmhand.words import Phrase

STRUCTURE: Final = "structure"
RESTRICTED: Final = "restricted"

_LOCKED: Final = Phrase("The PDF is locked with a password.")
_LOCKED_ADVICE: Final = Phrase("Please save it without a password and send it again.")
_FAULTY: Final = Phrase("The PDF's structure has faults ({count}). It could be drawn, but parts of it may be missing.")
_FAULTY_ADVICE: Final = Phrase("Please look at the picture in this note; if anything is missing, export the PDF once more.")
_RESTRICTED: Final = Phrase("The PDF's author limits what may be done with it; it opens without a password and was drawn.")

_MOST_RESOLVED: Final = 300_000
"""Most objects that are each looked at; drawings of more are read where the page leads. 4 µs each."""

_NO_MEMORY: Final = "std::bad_alloc"
"""What qpdf says where memory ran out while a stream was unpacked; it takes that for a fault of the data."""

Result = TypeVar("Result")


@dataclass(frozen=True)
class Strict(Generic[Result]):
    """What was read, and what was noticed while reading."""

    value: Result
    findings: tuple[Finding, ...]


def strictly(path: Path, read: Callable[[pikepdf.Pdf], Result]) -> Strict[Result] | Finding:
    """What `read` makes of a PDF, or the finding that says why it cannot be opened. The PDF is closed afterwards.

    MemoryError is left to the caller, who set the cap.
    """
    try:
        with pikepdf.open(path, attempt_recovery=False) as document:
            _resolve(document)
            value = read(document)
            return Strict(value, tuple(_findings(document)))
    except pikepdf.PasswordError:
        return locked()
    except READING_ERRORS as problem:
        if _NO_MEMORY in str(problem):
            raise MemoryError from problem
        return damaged(Kind.PDF.value, CANNOT_BE_OPENED)


def locked() -> Finding:
    """The finding that a PDF does not open without a password."""
    return unreadable(_LOCKED(), _LOCKED_ADVICE())


def _resolve(document: pikepdf.Pdf) -> None:
    """Look at every object that the cross-reference names, so that those that are not there come out as faults."""
    if number(entry(document.trailer, "/Size"), _MOST_RESOLVED + 1) <= _MOST_RESOLVED:
        for _ in document.objects:
            pass


def _findings(document: pikepdf.Pdf) -> list[Finding]:
    findings = []
    if document.is_encrypted:
        findings.append(Finding(RESTRICTED, Severity.NOTE, _RESTRICTED()))
    faults = len(document.get_warnings())
    if faults:
        findings.append(Finding(STRUCTURE, Severity.HOLD, _FAULTY(count=faults), _FAULTY_ADVICE(), float(faults), 0.0, "faults"))
    return findings
