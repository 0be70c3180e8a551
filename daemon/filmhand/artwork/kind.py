"""What a file is by its content, whatever its name says; and what to call the kinds that cannot be opened."""

from typing import Final

from filmhand.artwork.model import Kind
from filmhand.words import Phrase, Words

HEAD_BYTES: Final = 1024
"""How much of a file's beginning is looked at. A PDF's header may stand anywhere in it: ISO 32000-1 Annex H.3, from memory."""

_TIFF_MARKS: Final = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")  # TIFF 6.0 section 2; BigTIFF has 43 ("+") for 42 ("*")

# First bytes of kinds that customers send and that hold no picture for us to open. From memory, and from file(1)'s magic.
_OTHERS: Final[tuple[tuple[int, bytes, Phrase], ...]] = (
    (0, b"%!PS", Phrase("a PostScript or EPS drawing")),
    (0, b"\xc5\xd0\xd3\xc6", Phrase("an EPS drawing")),
    (0, b"8BPS", Phrase("a layered PSD document")),
    (0, b"gimp xcf", Phrase("a layered XCF document")),
    (0, b"GIF8", Phrase("a GIF picture")),
    (0, b"BM", Phrase("a BMP picture")),
    (0, b"\0\0\1\0", Phrase("an icon")),
    (0, b"icns", Phrase("an icon")),
    (4, b"ftyphei", Phrase("an HEIC photo")),
    (4, b"ftypmif1", Phrase("an HEIC photo")),
    (4, b"ftypavif", Phrase("an AVIF picture")),
    (4, b"ftyp", Phrase("a video")),
    (0, b"\x1aE\xdf\xa3", Phrase("a video")),
    (0, b"\0\0\0\x0cjP  ", Phrase("a JPEG 2000 picture")),
    (0, b"\xff\x0a", Phrase("a JPEG XL picture")),
    (0, b"\0\0\0\x0cJXL ", Phrase("a JPEG XL picture")),
    (8, b"AVI ", Phrase("a video")),
    (8, b"WAVE", Phrase("a sound")),
    (8, b"CDR", Phrase("a CDR drawing")),
    (0, b"ID3", Phrase("a sound")),
    (0, b"PK\3\4", Phrase("a ZIP archive or an office document")),
    (0, b"\xd0\xcf\x11\xe0", Phrase("an office document")),
    (0, b"Rar!", Phrase("an archive")),
    (0, b"7z\xbc\xaf", Phrase("an archive")),
    (0, b"\x1f\x8b", Phrase("an archive")),
    (0, b"{\\rtf", Phrase("a text document")),
    (0, b"MZ", Phrase("a program")),
    (0, b"\x7fELF", Phrase("a program")),
)

_EMPTY: Final = Phrase("an empty file")
_ZEROS: Final = Phrase("a file of nothing but zeros: its contents never arrived")
_SVG: Final = Phrase("an SVG drawing")
_PAGE: Final = Phrase("a web page")
_TEXT: Final = Phrase("a text")
_UNKNOWN: Final = Phrase("an unknown kind of file")


def kind_of(head: bytes) -> Kind | None:
    """The kind of a file that begins with these bytes (`HEAD_BYTES` of them, or the whole file); None if it is none of ours."""
    if head.startswith(b"\x89PNG\r\n\x1a\n"):  # PNG, ISO/IEC 15948 section 5.2
        return Kind.PNG
    if head.startswith(b"\xff\xd8\xff"):  # SOI and the next marker, ITU-T T.81 Annex B
        return Kind.JPEG
    if head.startswith(_TIFF_MARKS):
        return Kind.TIFF
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":  # RFC 9649 section 2.4
        return Kind.WEBP
    if b"%PDF-" in head[:HEAD_BYTES]:
        return Kind.PDF
    return None


def name_of_other(head: bytes) -> Words:
    """What to call a file that `kind_of` does not know, with its article: "a GIF picture", "an unknown kind of file"."""
    if not head:
        return _EMPTY()
    if not head.strip(b"\0"):
        return _ZEROS()
    for offset, mark, name in _OTHERS:
        if head.startswith(mark, offset):
            return name()
    lowered = head.lower()
    if b"<svg" in lowered:
        return _SVG()
    if b"<html" in lowered or b"<!doctype html" in lowered:
        return _PAGE()
    return (_TEXT if _is_text(head) else _UNKNOWN)()


def _is_text(head: bytes) -> bool:
    return not any(byte < ord(" ") and byte not in b"\t\n\r\f\x1b" for byte in head)
