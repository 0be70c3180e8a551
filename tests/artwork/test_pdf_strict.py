"""PDFs opened strictly: cut anywhere they are refused, damaged ones are held, locked ones named."""

import io
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pikepdf
import pytest
from artwork_files import drawn_pdf, saved_pdf
from pdf_files import image, page_pdf, updated
from pikepdf import Dictionary, ObjectStreamMode

from filmhand.artwork.model import Artwork
from filmhand.artwork.pdf import pages_in
from filmhand.preflight.finding import Finding, Severity

Opener = Callable[..., Artwork | Finding]


def _filled(**options: object) -> bytes:
    """A drawing of two pages with a picture and 20 kB that cannot be packed, saved as told."""
    data = page_pdf(
        b"q 90 0 0 90 20 20 cm /Photo Do Q 1 0 0 rg 5 5 9 9 re f",
        lambda document: Dictionary(XObject=Dictionary(Photo=image(document, 60, 60))),
    )
    document = pikepdf.open(io.BytesIO(data))
    document.add_blank_page(page_size=(50, 50))
    document.pages[0].obj["/Filling"] = document.make_stream(np.random.default_rng(3).bytes(20_000))
    return saved_pdf(document, **options)


PLAIN = _filled(object_stream_mode=ObjectStreamMode.disable)
ONCE = updated(PLAIN, b"first", 90)
TWICE = updated(ONCE, b"second", 91)
LINEAR = _filled(linearize=True, object_stream_mode=ObjectStreamMode.disable)
FILES = {
    "plain": PLAIN,
    "object streams": _filled(object_stream_mode=ObjectStreamMode.generate),
    "linearized": _filled(linearize=True),
    "linearized, object streams": _filled(linearize=True, object_stream_mode=ObjectStreamMode.generate),
    "linearized and updated": updated(LINEAR, b"first", 90),
    "updated": ONCE,
    "updated twice": TWICE,
    "behind a letterhead": b"\r\n" * 30 + PLAIN,
    "owner's password": _filled(encryption=pikepdf.Encryption(owner="secret", R=6)),
    "empty": drawn_pdf(b""),
}

EARLIER = {"linearized and updated": [LINEAR], "updated": [PLAIN], "updated twice": [PLAIN, ONCE]}
"""What each file was before its updates."""


@pytest.mark.parametrize("name", FILES)
def test_whole_files_open(tmp_path: Path, name: str) -> None:
    """As qpdf writes them, and with updates made by the standard's section on them."""
    path = tmp_path / "a.pdf"
    path.write_bytes(FILES[name])
    assert pages_in(path) == (1 if name == "empty" else 2)


@pytest.mark.parametrize("name", FILES)
def test_a_file_cut_short_is_refused_wherever(tmp_path: Path, name: str) -> None:
    """At each hundredth of its length, and around each end mark in it, but for the ends of earlier revisions."""
    data, path = FILES[name], tmp_path / "a.pdf"
    marks = [place + 5 for place in range(len(data)) if data.startswith(b"%%EOF", place)]
    revisions = {len(before) - blank for before in EARLIER.get(name, []) for blank in (0, 1)}
    around = {mark + step for mark in marks for step in (-5, -1, 0, 1, 2, 3, 9, 40, 200, 900, 1030)}
    cuts = {len(data) * share // 100 for share in range(1, 100)} | around
    for cut in sorted(cut for cut in cuts - revisions if 0 < cut < len(data.rstrip())):
        path.write_bytes(data[:cut])
        found = pages_in(path)
        assert isinstance(found, Finding), (name, cut, data[cut - 20 : cut])
        assert found.severity is Severity.REJECT


def test_cut_exactly_before_an_update_it_is_the_file_of_before(tmp_path: Path) -> None:
    """A limit that the format sets: the bytes are those of a whole PDF (ISO 32000-2 section 7.5.6), so it opens."""
    path = tmp_path / "a.pdf"
    path.write_bytes(TWICE[: len(ONCE)])
    assert TWICE[: len(ONCE)] == ONCE
    assert pages_in(path) == 2


def test_what_stands_after_the_end_may_be_blank(tmp_path: Path) -> None:
    """Line ends, zeros and the mark of old systems after %%EOF are no update."""
    path = tmp_path / "a.pdf"
    for tail in (b"\r\n\r\n", b"\0" * 40, b"\n\x1a"):
        path.write_bytes(PLAIN + tail)
        assert pages_in(path) == 2


def _astray(data: bytes, number: int) -> bytes:
    """A PDF whose cross-reference table (ISO 32000-2 section 7.5.4) leads seven bytes past an object."""
    place = data.index(b"\n%d 0 obj" % number) + 1
    changed = data.replace(b"%010d 00000 n" % place, b"%010d 00000 n" % (place + 7))
    assert changed != data
    return changed


def test_an_object_that_is_not_where_the_table_says_holds_the_file(opened: Opener) -> None:
    """The picture, or a mask that only drawing needs: a renderer leaves it out and says nothing."""

    def resources(document: pikepdf.Pdf) -> Dictionary:
        mask = image(document, 20, 20)
        return Dictionary(XObject=Dictionary(Photo=image(document, 20, 20, SMask=mask)))

    document = pikepdf.open(io.BytesIO(page_pdf(b"q 90 0 0 90 20 20 cm /Photo Do Q", resources)))
    data = saved_pdf(document, object_stream_mode=ObjectStreamMode.disable)
    with pikepdf.open(io.BytesIO(data)) as written:
        photo = written.pages[0].obj.Resources.XObject.Photo
        numbers = [photo.objgen[0], photo.SMask.objgen[0]]
    for number in numbers:
        result = opened(_astray(data, number))
        assert isinstance(result, Artwork)
        assert ("structure", Severity.HOLD) in {(f.check, f.severity) for f in result.findings}
    whole = opened(data)
    assert isinstance(whole, Artwork)
    assert "structure" not in {f.check for f in whole.findings}


def test_a_table_that_leads_nowhere_is_not_rebuilt(tmp_path: Path) -> None:
    """An update whose /Prev (section 7.5.5) points beside the table of before: rebuilding might bring back what was replaced."""
    path = tmp_path / "a.pdf"
    before = int(PLAIN[PLAIN.rindex(b"startxref") + 9 :].split()[0])
    path.write_bytes(ONCE.replace(b"/Prev %d" % before, b"/Prev %d" % (before - 30)))
    assert isinstance(pages_in(path), Finding)


def test_locked_and_restricted(opened: Opener) -> None:
    """A password to open it: refused. Only to change it: opens, and that is said."""
    for revision in (3, 4, 6):
        strength = {"R": revision, "aes": revision > 3, "metadata": revision > 3}
        locked = opened(_filled(encryption=pikepdf.Encryption(user="open", owner="secret", **strength)))
        assert isinstance(locked, Finding)
        assert "password" in str(locked.message)
        limited = opened(_filled(encryption=pikepdf.Encryption(owner="secret", **strength)))
        assert isinstance(limited, Artwork)
        assert ("restricted", Severity.NOTE) in {(f.check, f.severity) for f in limited.findings}
