"""What a file is by its content, whatever its name says; and whether its name says something else."""

import re
import zlib
from pathlib import PurePath
from typing import Final

from filmhand.artwork.model import Kind
from filmhand.preflight.finding import Finding, Severity
from filmhand.words import Phrase

HEAD_BYTES: Final = 4096
"""How much of a file's beginning is looked at: drawing programs put long declarations before an SVG's first element."""

_PDF_HEAD: Final = 1024  # a PDF's header may stand anywhere in it: ISO 32000-1 Annex H.3, from memory

_TIFF_MARKS: Final = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")  # TIFF 6.0 section 2; BigTIFF has 43 ("+") for 42 ("*")
_GZIP: Final = b"\x1f\x8b"  # RFC 1952 section 2.3.1
_ZIP: Final = b"PK\3\4"  # APPNOTE 6.3.10 section 4.3.7, a member's header
_AVIF_BRANDS: Final = (b"avif", b"avis")  # AV1 Image File Format v1.1 section 6.2
_HEIF_BRANDS: Final = (b"mif1", b"msf1", b"miaf")  # say only that the file is built like one: ISO/IEC 23008-12 section 10

# What may stand before an XML document's first element: declaration, comments, document type (XML 1.0 production 22).
_PROLOG: Final = re.compile(r"(?:\s+|<\?.*?\?>|<!--.*?-->|<!doctype[^\[>]*(?:\[.*?\]\s*)?>)*", re.DOTALL | re.IGNORECASE)
_ELEMENT: Final = re.compile(r"<(?:[\w.-]+:)?([a-z]+)[\s>/]", re.IGNORECASE)
_SVG_TYPE: Final = re.compile(r"<!doctype\s+svg\b", re.IGNORECASE)

# First members of ZIP files that are no archive of someone's files: office documents (ECMA-376-2 section 7, OpenDocument 1.3
# part 2 section 3.3), applications' own documents; from memory and from files seen.
_DRESSED: Final = re.compile(
    rb"\[Content_Types\]\.xml|_rels/|docProps/|word/|xl/|ppt/|customXml/|mimetype|META-INF/|Index/|"
    rb"document\.json|meta\.json|mergedimage\.png|Document\.archive|QuickLook/"
)

_SUFFIXES: Final[dict[Kind, tuple[str, ...]]] = {
    Kind.PNG: ("png", "apng"),
    Kind.JPEG: ("jpg", "jpeg", "jpe", "jfif"),
    Kind.TIFF: ("tif", "tiff"),
    Kind.WEBP: ("webp",),
    Kind.PDF: ("pdf", "ai"),
    Kind.SVG: ("svg", "svgz"),
    Kind.PSD: ("psd", "psb"),
    Kind.AVIF: ("avif", "avifs"),
    Kind.GIF: ("gif",),
    Kind.BMP: ("bmp", "dib"),
}
_OTHER_SUFFIXES: Final = frozenset(("eps", "ps", "heic", "heif", "cdr", "xcf", "jxl", "jp2", "zip", "doc", "docx", "mp4", "mov"))

MISNAMED: Final = "misnamed"
_MISNAMED: Final = Phrase("The file is called .{suffix} but is of the kind {kind}; it was opened as what it is.")


def kind_of(head: bytes) -> Kind | None:
    """The kind of a file that begins with these bytes (`HEAD_BYTES` of them, or the whole file); None if it is none of ours."""
    for mark, kind in (
        (b"\x89PNG\r\n\x1a\n", Kind.PNG),  # ISO/IEC 15948 section 5.2
        (b"\xff\xd8\xff", Kind.JPEG),  # SOI and the next marker, ITU-T T.81 Annex B
        (b"8BPS", Kind.PSD),  # Adobe Photoshop File Formats Specification, file header section; PSB too
        (b"GIF87a", Kind.GIF),  # GIF89a specification section 17
        (b"GIF89a", Kind.GIF),
        *((mark, Kind.TIFF) for mark in _TIFF_MARKS),
    ):
        if head.startswith(mark):
            return kind
    if head[:4] == b"RIFF" and head[8:12] == b"WEBP":  # RFC 9649 section 2.4
        return Kind.WEBP
    if _is_avif(head):
        return Kind.AVIF
    if b"%PDF-" in head[:_PDF_HEAD]:
        return Kind.PDF
    if _is_bmp(head):
        return Kind.BMP
    return Kind.SVG if first_element(head) == "svg" else None


def is_zip(head: bytes) -> bool:
    """Whether a file that begins so is an archive of files, and not an office or layered document that is packed as one."""
    return head.startswith(_ZIP) and _DRESSED.match(zip_member(head)) is None


def zip_member(head: bytes) -> bytes:
    """The name of a ZIP file's first member, with what follows it (a stored member's contents)."""
    length = int.from_bytes(head[26:28], "little")
    extra = int.from_bytes(head[28:30], "little")
    return head[30 : 30 + length] + b"\n" + head[30 + length + extra :]


def misnamed(name: str, kind: Kind) -> Finding | None:
    """The note that a file's name, as the customer wrote it, says another kind than it is; None where it does not."""
    suffix = PurePath(name).suffix.lower().lstrip(".")
    known = suffix in _OTHER_SUFFIXES or any(suffix in suffixes for suffixes in _SUFFIXES.values())
    if not known or suffix in _SUFFIXES[kind]:
        return None
    return Finding(MISNAMED, Severity.NOTE, _MISNAMED(suffix=suffix, kind=kind.value))


def first_element(head: bytes) -> str:
    """The name of a marked-up text's first element, in lower case and without prefix; "" where there is none in sight."""
    text = _text_of(head)
    prolog = _PROLOG.match(text)
    found = _ELEMENT.match(text, prolog.end() if prolog else 0)
    if found is not None:
        return found[1].lower()
    return "svg" if _SVG_TYPE.search(text) else ""  # its document type is longer than what we see


def _text_of(head: bytes) -> str:
    """The beginning as text, unpacked if it was packed by gzip."""
    if head.startswith(_GZIP):
        try:
            head = zlib.decompressobj(wbits=31).decompress(head, HEAD_BYTES)
        except zlib.error:
            return ""
    if head[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return head.decode("utf-16", "replace")
    return head.removeprefix(b"\xef\xbb\xbf").decode("latin-1")


def _is_avif(head: bytes) -> bool:
    """An `ftyp` box (ISO/IEC 14496-12 section 4.3) that says so, as its main brand or among those it fits."""
    if head[4:8] != b"ftyp":
        return False
    main, others = head[8:12], head[16 : int.from_bytes(head[:4], "big")]
    fits = any(others[at : at + 4] in _AVIF_BRANDS for at in range(0, len(others), 4))
    return main in _AVIF_BRANDS or (main in _HEIF_BRANDS and fits)


def _is_bmp(head: bytes) -> bool:
    """Two letters alone would be any text that begins with them: the second header's length (12 to 124) has to follow."""
    return (
        head.startswith(b"BM")
        and head[6:10] == bytes(4)
        and int.from_bytes(head[14:18], "little") in (12, 40, 52, 56, 64, 108, 124)
    )
