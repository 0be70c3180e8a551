"""What a file is by its content, whatever its name says; and what to call the kinds that cannot be opened."""

from typing import Final

from filmhand.artwork.model import Kind

HEAD_BYTES: Final = 1024
"""How much of a file's beginning is looked at. A PDF's header may stand anywhere in it: ISO 32000-1 Annex H.3, from memory."""

_TIFF_MARKS: Final = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")  # TIFF 6.0 section 2; BigTIFF has 43 ("+") for 42 ("*")

# First bytes of kinds that customers send and that hold no picture for us to open. From memory, and from file(1)'s magic.
_OTHERS: Final[tuple[tuple[int, bytes, str], ...]] = (
    (0, b"%!PS", "a PostScript or EPS drawing"),
    (0, b"\xc5\xd0\xd3\xc6", "an EPS drawing"),
    (0, b"8BPS", "a layered PSD document"),
    (0, b"gimp xcf", "a layered XCF document"),
    (0, b"GIF8", "a GIF picture"),
    (0, b"BM", "a BMP picture"),
    (0, b"\0\0\1\0", "an icon"),
    (0, b"icns", "an icon"),
    (4, b"ftyphei", "an HEIC photo"),
    (4, b"ftypmif1", "an HEIC photo"),
    (4, b"ftypavif", "an AVIF picture"),
    (4, b"ftyp", "a video"),
    (0, b"\x1aE\xdf\xa3", "a video"),
    (0, b"\0\0\0\x0cjP  ", "a JPEG 2000 picture"),
    (0, b"\xff\x0a", "a JPEG XL picture"),
    (0, b"\0\0\0\x0cJXL ", "a JPEG XL picture"),
    (8, b"AVI ", "a video"),
    (8, b"WAVE", "a sound"),
    (8, b"CDR", "a CDR drawing"),
    (0, b"ID3", "a sound"),
    (0, b"PK\3\4", "a ZIP archive or an office document"),
    (0, b"\xd0\xcf\x11\xe0", "an office document"),
    (0, b"Rar!", "an archive"),
    (0, b"7z\xbc\xaf", "an archive"),
    (0, b"\x1f\x8b", "an archive"),
    (0, b"{\\rtf", "a text document"),
    (0, b"MZ", "a program"),
    (0, b"\x7fELF", "a program"),
)


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


def name_of_other(head: bytes) -> str:
    """What to call a file that `kind_of` does not know, with its article: "a GIF picture", "an unknown kind of file"."""
    if not head:
        return "an empty file"
    if not head.strip(b"\0"):
        return "a file of nothing but zeros: its contents never arrived"
    for offset, mark, name in _OTHERS:
        if head.startswith(mark, offset):
            return name
    lowered = head.lower()
    if b"<svg" in lowered:
        return "an SVG drawing"
    if b"<html" in lowered or b"<!doctype html" in lowered:
        return "a web page"
    return "a text" if _is_text(head) else "an unknown kind of file"


def _is_text(head: bytes) -> bool:
    return not any(byte < ord(" ") and byte not in b"\t\n\r\f\x1b" for byte in head)
