"""Files that hold no picture for us to open: what to call each kind, and what to send instead."""

from dataclasses import dataclass
from typing import Final

from filmhand.artwork.kind import first_element, is_zip, zip_member
from filmhand.artwork.refusal import SEND_AGAIN_ARTWORK, SEND_WHAT_WE_OPEN
from filmhand.words import Phrase

_FROM_DRAWING: Final = Phrase(
    "Please open it in the program it was drawn with and export a PDF with its fonts inside, "
    "or a PNG with a transparent background."
)
_FROM_LAYERS: Final = Phrase(
    "Please open it in the program it was made with and export a PNG with a transparent background, at the size it is to be "
    "printed with 300 pixels an inch; or a PDF."
)
_FROM_DOCUMENT: Final = Phrase(
    "Please export the page as a PDF from the program it was written with; better still, send the picture in it as a file of its "
    "own, such as a PNG with a transparent background."
)
_FROM_PHOTO: Final = Phrase(
    "Please export the photo as a JPEG in the best quality, or as a PNG; a drawing as a PDF. "
    "Phones can be set to save photos as JPEG."
)
_FROM_VIDEO: Final = Phrase("Only still artwork can be printed. Please send a single picture, such as a PNG or a PDF.")
_FROM_ARCHIVE: Final = Phrase("Please send the artwork itself, such as PNG or PDF files, or pack the files as a ZIP archive.")
_FROM_WEB: Final = Phrase("Please save the picture itself, not the page that shows it, and send that: a PNG, PDF, TIFF or JPEG.")
_FROM_FONT: Final = Phrase("A font cannot be printed. Please send the finished artwork as a PDF or PNG.")
_FROM_STITCHES: Final = Phrase(
    "Stitches and cutting paths hold no colours to print. Please send the picture they were made from, as a PDF or PNG."
)


@dataclass(frozen=True)
class Other:
    """A kind that we do not open. `name`: with its article, as in "This is an EPS drawing"."""

    name: Phrase
    advice: Phrase


_EPS: Final = Other(Phrase("an EPS drawing"), _FROM_DRAWING)
_POSTSCRIPT: Final = Other(Phrase("a PostScript or EPS drawing"), _FROM_DRAWING)
_AI: Final = Other(Phrase("a drawing program's own file (AI) without a PDF inside"), _FROM_DRAWING)
_DRAWING: Final = Other(Phrase("a drawing program's own file"), _FROM_DRAWING)
_CAD: Final = Other(Phrase("a technical drawing (CAD)"), _FROM_DRAWING)
_METAFILE: Final = Other(Phrase("a Windows metafile"), _FROM_DRAWING)
_XCF: Final = Other(Phrase("a layered XCF document"), _FROM_LAYERS)
_LAYERS: Final = Other(Phrase("a painting program's own file"), _FROM_LAYERS)
_LAYOUT: Final = Other(Phrase("a layout program's own file"), _FROM_DRAWING)
_HEIC: Final = Other(Phrase("an HEIC photo"), _FROM_PHOTO)
_RAW: Final = Other(Phrase("a camera's raw photo"), _FROM_PHOTO)
_J2K: Final = Other(Phrase("a JPEG 2000 picture"), _FROM_LAYERS)
_JXL: Final = Other(Phrase("a JPEG XL picture"), _FROM_LAYERS)
_HDR: Final = Other(Phrase("a picture for film and games (EXR, HDR, DDS)"), _FROM_LAYERS)
_ICON: Final = Other(Phrase("an icon"), _FROM_LAYERS)
_VIDEO: Final = Other(Phrase("a video"), _FROM_VIDEO)
_SOUND: Final = Other(Phrase("a sound"), _FROM_VIDEO)
_OFFICE: Final = Other(Phrase("an office document"), _FROM_DOCUMENT)
_BOOK: Final = Other(Phrase("an electronic book"), _FROM_DOCUMENT)
_ZIP: Final = Other(Phrase("a ZIP archive"), _FROM_ARCHIVE)
_EMPTY_ZIP: Final = Other(Phrase("a ZIP archive with nothing in it"), _FROM_ARCHIVE)
_ARCHIVE: Final = Other(Phrase("an archive"), _FROM_ARCHIVE)
_FONT: Final = Other(Phrase("a font"), _FROM_FONT)
_STITCHES: Final = Other(Phrase("an embroidery file"), _FROM_STITCHES)
_PLOT: Final = Other(Phrase("a cutting or plotting file"), _FROM_STITCHES)
_PROGRAM: Final = Other(Phrase("a program"), SEND_WHAT_WE_OPEN)
_MAIL: Final = Other(Phrase("an e-mail"), _FROM_WEB)
_LINK: Final = Other(Phrase("a link to a file or page, not the file itself"), _FROM_WEB)
_MAC_NOTE: Final = Other(Phrase("a Mac's note about a file, not the file itself"), SEND_AGAIN_ARTWORK)
_EMPTY: Final = Other(Phrase("an empty file"), SEND_AGAIN_ARTWORK)
_ZEROS: Final = Other(Phrase("a file of nothing but zeros: its contents never arrived"), SEND_AGAIN_ARTWORK)
_PAGE: Final = Other(Phrase("a web page"), _FROM_WEB)
_XML: Final = Other(Phrase("a data file (XML)"), SEND_WHAT_WE_OPEN)
_TEXT: Final = Other(Phrase("a text"), _FROM_DOCUMENT)
_UNKNOWN: Final = Other(Phrase("an unknown kind of file"), SEND_WHAT_WE_OPEN)

# First bytes, from memory and from file(1)'s magic; the first that fits counts.
_MARKS: Final[tuple[tuple[int, bytes, Other], ...]] = (
    (0, b"\xc5\xd0\xd3\xc6", _EPS),
    (0, b"gimp xcf", _XCF),
    (0, b"\0\0\1\0", _ICON),
    (0, b"icns", _ICON),
    (4, b"ftyphe", _HEIC),
    (4, b"ftypmif1", _HEIC),
    (4, b"ftypmsf1", _HEIC),
    (4, b"ftypcrx", _RAW),
    (4, b"ftypM4A", _SOUND),
    (4, b"ftyp", _VIDEO),
    (4, b"moov", _VIDEO),
    (4, b"mdat", _VIDEO),
    (0, b"\x1aE\xdf\xa3", _VIDEO),
    (0, b"\0\0\1\xba", _VIDEO),
    (0, b"FLV\1", _VIDEO),
    (0, b"0&\xb2u\x8ef\xcf\x11", _VIDEO),
    (8, b"AVI ", _VIDEO),
    (8, b"WAVE", _SOUND),
    (0, b"ID3", _SOUND),
    (0, b"OggS", _SOUND),
    (0, b"fLaC", _SOUND),
    (0, b"FUJIFILMCCD-RAW", _RAW),
    (0, b"\0\0\0\x0cjP  ", _J2K),
    (0, b"\xff\x4f\xff\x51", _J2K),
    (0, b"\xff\x0a", _JXL),
    (0, b"\0\0\0\x0cJXL ", _JXL),
    (0, b"v/1\1", _HDR),
    (0, b"#?RADIANCE", _HDR),
    (0, b"DDS ", _HDR),
    (8, b"CDR", _DRAWING),
    (8, b"cdr", _DRAWING),
    (0, b"\0\xffKA", _DRAWING),
    (0, b"\6\6\xed\xf5", _LAYOUT),
    (0, b"AC10", _CAD),
    (0, b"\xd7\xcd\xc6\x9a", _METAFILE),
    (40, b" EMF", _METAFILE),
    (0, b"#PES", _STITCHES),
    (0, b"#PEC", _STITCHES),
    (0, b"LA:", _STITCHES),
    (0, b"PK\5\6", _EMPTY_ZIP),
    (0, b"\xd0\xcf\x11\xe0", _OFFICE),
    (0, b"{\\rtf", _OFFICE),
    (0, b"Rar!", _ARCHIVE),
    (0, b"7z\xbc\xaf", _ARCHIVE),
    (0, b"\x1f\x8b", _ARCHIVE),
    (0, b"BZh", _ARCHIVE),
    (0, b"\xfd7zXZ", _ARCHIVE),
    (0, b"(\xb5/\xfd", _ARCHIVE),
    (257, b"ustar", _ARCHIVE),
    (0, b"OTTO", _FONT),
    (0, b"\0\1\0\0\0", _FONT),
    (0, b"ttcf", _FONT),
    (0, b"wOF", _FONT),
    (0, b"L\0\0\0\1\x14\2\0", _LINK),
    (0, b"[InternetShortcut]", _LINK),
    (0, b"bplist00", _LINK),
    (0, b"\0\5\x16\7", _MAC_NOTE),
    (0, b"MZ", _PROGRAM),
    (0, b"\x7fELF", _PROGRAM),
)

# A packed document's first member, or what its "mimetype" says.
_PACKED: Final[tuple[tuple[bytes, Other], ...]] = (
    (b"epub", _BOOK),
    (b"openraster", _LAYERS),
    (b"krita", _LAYERS),
    (b"opendocument.graphics", _DRAWING),
    (b"Document.archive", _LAYERS),
    (b"QuickLook/", _LAYERS),
    (b"mergedimage.png", _LAYERS),
    (b"document.json", _DRAWING),
    (b"meta.json", _DRAWING),
    (b"META-INF/", _PROGRAM),
)


def other_of(head: bytes) -> Other:
    """What a file is that `kind_of` does not know, by its beginning (`HEAD_BYTES` of it)."""
    if not head:
        return _EMPTY
    if not head.strip(b"\0"):
        return _ZEROS
    if b"%!PS" in head[:40]:
        return _AI if b"%%Creator: Adobe Illustrator" in head else _POSTSCRIPT
    if head.startswith(b"PK\3\4"):
        return _packed(head)
    for offset, mark, other in _MARKS:
        if head.startswith(mark, offset):
            return other
    return _by_text(head)


def _packed(head: bytes) -> Other:
    if is_zip(head):
        return _ZIP
    member = zip_member(head)[:200]
    return next((other for mark, other in _PACKED if mark in member), _OFFICE)


def _by_text(head: bytes) -> Other:
    element = first_element(head)
    lowered = head.lower()
    if element in ("html", "head", "body", "script") or b"<!doctype html" in lowered:
        return _PAGE
    if element and lowered.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"<?xml"):
        return _LINK if element == "plist" else _XML
    if not _is_text(head):
        return _UNKNOWN
    if b"\nmime-version:" in lowered or lowered.startswith((b"mime-version:", b"received:", b"return-path:")):
        return _MAIL
    if lowered.lstrip().startswith((b"0\r\nsection", b"0\nsection", b"  0\nsection")):
        return _CAD
    return _PLOT if head.lstrip(b"\x1b.").startswith((b"IN;", b"%-12345X")) else _TEXT


def _is_text(head: bytes) -> bool:
    return not any(byte < ord(" ") and byte not in b"\t\n\r\f\x1b" for byte in head)
