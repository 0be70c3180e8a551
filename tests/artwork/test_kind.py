"""Kinds by content: ours, others with what to send instead, archives, and names that say something else."""

import gzip
import io
import zipfile
from collections.abc import Callable

import numpy as np
import pytest
from artwork_files import encoded
from PIL import Image

from filmhand.artwork.kind import HEAD_BYTES, is_zip, kind_of, misnamed
from filmhand.artwork.model import Artwork, Kind
from filmhand.artwork.other_kind import other_of
from filmhand.preflight.finding import Finding, Severity

Opener = Callable[..., Artwork | Finding]

DOT = Image.new("RGB", (8, 8), "red")
SVG = b'<svg xmlns="http://www.w3.org/2000/svg" width="9" height="9"/>'


@pytest.mark.parametrize(
    ("data", "kind"),
    [
        (encoded(DOT, "AVIF"), Kind.AVIF),
        (encoded(DOT, "GIF"), Kind.GIF),
        (encoded(DOT, "BMP"), Kind.BMP),
        (SVG, Kind.SVG),
        (b"\xef\xbb\xbf \n" + SVG, Kind.SVG),
        (b'<?xml version="1.0"?>\n<!-- <html> -->\n' + SVG, Kind.SVG),
        (b"<!DOCTYPE svg [" + b'<!ENTITY long "http://example.org/">\n' * 200 + b"]>" + SVG, Kind.SVG),
        (b'<x:svg xmlns:x="http://www.w3.org/2000/svg"/>', Kind.SVG),
        (SVG.decode().encode("utf-16"), Kind.SVG),
        (gzip.compress(SVG), Kind.SVG),
        (b"<!DOCTYPE html><html><svg></svg></html>", None),
        (gzip.compress(b"a tar of something"), None),
        (b"BM stands for something", None),
        (b"<svgish/>", None),
    ],
)
def test_new_kinds_are_told_by_their_bytes(data: bytes, kind: Kind | None) -> None:
    """As Pillow and gzip write them, and SVG in the ways XML 1.0 lets a document begin."""
    assert kind_of(data[:HEAD_BYTES]) is kind


def _zip(**members: bytes) -> bytes:
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return file.getvalue()


@pytest.mark.parametrize(
    ("data", "is_archive", "words"),
    [
        (_zip(**{"shirt front.png": b"x"}), True, "ZIP archive"),
        (_zip(**{"order/front.png": b"x"}), True, "ZIP archive"),
        (_zip(**{"[Content_Types].xml": b"<Types/>", "word/document.xml": b""}), False, "office document"),
        (_zip(mimetype=b"application/vnd.oasis.opendocument.text"), False, "office document"),
        (_zip(mimetype=b"application/vnd.oasis.opendocument.graphics"), False, "drawing program"),
        (_zip(mimetype=b"application/epub+zip"), False, "electronic book"),
        (_zip(mimetype=b"image/openraster"), False, "painting program"),
        (_zip(), False, "nothing in it"),
    ],
)
def test_archives_are_told_from_documents_packed_as_one(data: bytes, is_archive: bool, words: str) -> None:
    """By the first member: ECMA-376-2 for office, OpenDocument's and EPUB's "mimetype", OpenRaster; zipfile writes them."""
    assert is_zip(data[:HEAD_BYTES]) is is_archive
    assert kind_of(data[:HEAD_BYTES]) is None
    assert words in other_of(data[:HEAD_BYTES]).name.text


@pytest.mark.parametrize(
    ("data", "name", "advice"),
    [
        (b"%!PS-Adobe-3.0\n", "EPS", "export a PDF"),
        (b"%!PS-Adobe-3.0\n%%Creator: Adobe Illustrator(R) 8\n", "AI", "export a PDF"),
        (b"gimp xcf v011\0", "XCF", "transparent background"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "office", "as a PDF"),
        (b"{\\rtf1", "office", "as a PDF"),
        (b"\0\0\0\x20ftypqt  ", "video", "still artwork"),
        (b"\0\0\0\x1cftypmp42", "video", "single picture"),
        (b"\x1aE\xdf\xa3", "video", "single picture"),
        (b"\0\0\0\x18ftypheic", "HEIC", "JPEG"),
        (b"\0\0\0\x18ftypmif1\0\0\0\0mif1heic", "HEIC", "JPEG"),
        (b"Rar!\x1a\7", "archive", "ZIP archive"),
        (b"7z\xbc\xaf\x27\x1c", "archive", "ZIP archive"),
        (bytes(257).replace(b"\0", b"a") + b"ustar", "archive", "ZIP archive"),
        (b"OTTO\0\x0b", "font", "finished artwork"),
        (b"wOF2", "font", "finished artwork"),
        (b"<!DOCTYPE html><html>", "web page", "save the picture itself"),
        (b"[InternetShortcut]\r\nURL=https://example.org", "link", "save the picture itself"),
        (b"\0\5\x16\7\0\2\0\0", "Mac", "again"),
        (b"From: a\nMIME-Version: 1.0\n", "e-mail", "picture itself"),
        (b'<?xml version="1.0"?><orders/>', "XML", "PNG"),
    ],
)
def test_each_family_is_told_what_to_send(opened: Opener, data: bytes, name: str, advice: str) -> None:
    """Drawings a PDF, documents a PDF, videos a still picture, archives a ZIP; always with the formats that can be opened."""
    finding = opened(data)
    assert isinstance(finding, Finding)
    assert (finding.check, finding.severity) == ("readable", Severity.REJECT)
    assert name in str(finding.message)
    assert advice in str(finding.advice)
    assert "PNG" in str(finding.advice)


@pytest.mark.parametrize(
    ("name", "kind", "is_wrong"),
    [
        ("logo.png", Kind.JPEG, True),
        ("LOGO.JPG", Kind.JPEG, False),
        ("logo.jpeg", Kind.WEBP, True),
        ("logo.ai", Kind.PDF, False),
        ("logo.eps", Kind.PDF, True),
        ("logo.svgz", Kind.SVG, False),
        ("logo.psb", Kind.PSD, False),
        ("logo", Kind.PNG, False),
        ("logo.final v2", Kind.PNG, False),
        ("shirt 2.0", Kind.PNG, False),
    ],
)
def test_a_name_that_says_another_kind_is_noted(name: str, kind: Kind, is_wrong: bool) -> None:
    """A note, nothing more; endings that name no kind say nothing."""
    finding = misnamed(name, kind)
    assert (finding is not None) is is_wrong
    if finding is not None:
        assert finding.severity is Severity.NOTE
        assert kind.value in str(finding.message)


def test_random_bytes_have_a_name() -> None:
    """Two thousand heads of noise, half of them after a known mark: never an exception, always a name and advice."""
    rng = np.random.default_rng(8)
    marks = [b"PK\3\4", b"<svg", b"<?xml", b"\x1f\x8b", b"BM", b"\0\0\0\x20ftyp", b"%!PS", b"<!DOCTYPE", b"\xff\xfe", b"RIFF"]
    for turn in range(2000):
        head = (marks[turn % len(marks)] if turn % 2 else b"") + rng.bytes(int(rng.integers(0, 80)))
        if kind_of(head) is None:
            other = other_of(head)
            assert other.name.text
            assert other.advice.text
        is_zip(head)
