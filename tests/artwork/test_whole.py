"""Files that are not whole are caught, wherever they were cut or left empty; whole ones are not refused."""

import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pikepdf
import pytest
import tifffile
from artwork_files import drawn_pdf, encoded, saved_pdf
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageDraw

from filmhand.artwork.hole import hole_in
from filmhand.artwork.kind import kind_of
from filmhand.artwork.model import Artwork, Kind
from filmhand.artwork.open import open_artwork
from filmhand.artwork.whole import fault_of
from filmhand.intake.ticket import Ticket
from filmhand.preflight.finding import Finding, Severity
from filmhand.rules import Printer, Rule
from filmhand.words import Phrase

Opener = Callable[..., Artwork | Finding]


def _photo(width: int = 160, height: int = 120, seed: int = 5) -> Image.Image:
    rng = np.random.default_rng(seed)
    coarse = Image.fromarray(rng.integers(0, 256, (12, 16, 3), dtype=np.uint8))
    smooth = np.asarray(coarse.resize((width, height), Image.Resampling.BICUBIC)).astype(int)
    return Image.fromarray(np.clip(smooth + rng.integers(-12, 13, smooth.shape), 0, 255).astype(np.uint8))


def _flat(size: tuple[int, int] = (3000, 3000)) -> Image.Image:
    picture = Image.new("RGB", size, "white")
    ImageDraw.Draw(picture).ellipse((40, 40, size[0] // 3, size[1] // 3), fill="red")
    return picture


def _tiff(**options: Any) -> bytes:
    file = io.BytesIO()
    tifffile.imwrite(file, np.asarray(_photo()), photometric="rgb", **options)
    return file.getvalue()


def _pdf(**options: Any) -> bytes:
    document = pikepdf.open(io.BytesIO(drawn_pdf(b"1 0 0 rg 20 20 100 60 re f")))
    document.pages[0].obj["/Filling"] = pikepdf.Stream(document, np.random.default_rng(1).bytes(2000))
    return saved_pdf(document, **options)


FILES = {
    "png": encoded(_photo(), "PNG"),
    "png palette": encoded(_photo().convert("P"), "PNG"),
    "jpeg": encoded(_photo(), "JPEG", quality=90),
    "jpeg progressive": encoded(_photo(), "JPEG", quality=90, progressive=True),
    "jpeg optimized": encoded(_photo(), "JPEG", quality=80, optimize=True),
    "jpeg restarts": encoded(_photo(), "JPEG", quality=80, restart_marker_rows=1),
    "webp": encoded(_photo(), "WEBP", quality=90),
    "webp lossless": encoded(_photo(), "WEBP", lossless=True),
    "webp alpha": encoded(_photo().convert("RGBA"), "WEBP", quality=70),
    "tiff lzw": _tiff(compression="lzw", rowsperstrip=16),
    "tiff deflate": _tiff(compression="zlib", rowsperstrip=120),
    "tiff packbits": _tiff(compression="packbits", rowsperstrip=30),
    "tiff jpeg": _tiff(compression="jpeg", rowsperstrip=32),
    "tiff zstd": _tiff(compression="zstd", tile=(64, 64)),
    "big tiff": _tiff(compression="lzw", bigtiff=True),
    "avif": encoded(_photo(), "AVIF", quality=90),
    "avif alpha": encoded(_photo().convert("RGBA"), "AVIF", quality=60),
    "gif": encoded(_photo(), "GIF"),
    "gif moving": encoded(_photo(), "GIF", save_all=True, append_images=[_photo(seed=6)]),
    "bmp": encoded(_photo(), "BMP"),
    "bmp palette": encoded(_photo().convert("P"), "BMP"),
    "pdf": _pdf(object_stream_mode=pikepdf.ObjectStreamMode.disable),
    "pdf streams": _pdf(object_stream_mode=pikepdf.ObjectStreamMode.generate),
    "pdf linearized": _pdf(linearize=True),
}


def _fault(data: bytes) -> str | None:
    kind = kind_of(data[:1024])
    assert kind is not None
    fault = fault_of(data, kind)
    return None if fault is None else fault.text


@pytest.mark.parametrize("name", FILES)
def test_whole_files_pass(name: str, opened: Opener) -> None:
    """Files as Pillow, tifffile and qpdf write them are not refused."""
    assert _fault(FILES[name]) is None
    assert isinstance(opened(FILES[name]), Artwork)


@pytest.mark.parametrize("name", [*(name for name in FILES if "tiff" not in name), "uncompressed tiff"])
def test_cut_anywhere_is_caught(name: str) -> None:
    """Cut at 60 places from the first kilobyte to the last byte, each kind of file is known to be cut short.

    A PDF may end in one line break less and be whole (ISO 32000-2 section 7.5.5 ends with %%EOF).
    """
    data = FILES.get(name) or _tiff(compression=None)
    last = len(data.rstrip(b"\n")) if name.startswith("pdf") else len(data)
    for length in {*np.linspace(64, last - 1, 60).astype(int).tolist(), last - 2, last - 3}:
        if kind_of(data[: min(length, 1024)]) is not None:
            assert _fault(data[:length]) is not None, length


@pytest.mark.parametrize("name", [name for name in FILES if "tiff" in name])
def test_a_cut_tiff_is_caught(name: str) -> None:
    """tifffile pads after the last strip; up to the last strip's last byte every cut is caught."""
    data = FILES[name]
    with tifffile.TiffFile(io.BytesIO(data)) as file:
        page = file.pages.first
        end = max(offset + count for offset, count in zip(page.dataoffsets, page.databytecounts, strict=True))
    for length in {*np.linspace(64, end - 1, 60).astype(int).tolist(), end - 1}:
        assert _fault(data[:length]) is not None, length


@pytest.mark.parametrize("name", [name for name in FILES if "bmp" not in name])
def test_a_copy_broken_off_after_its_size_was_set_is_caught(name: str, opened: Opener) -> None:
    """A file that has its full length, and zeros from some byte on (failure-modes: a copy that sets its final size first).

    Plain pixels may be black: of them only zeros from a block's beginning are known for a gap (test_picture_formats).
    """
    data = FILES[name]
    for share in (0.15, 0.3, 0.5, 0.7, 0.85, 0.95):
        begin = int(len(data) * share)
        result = opened(data[:begin] + bytes(len(data) - begin))
        assert isinstance(result, Finding), share
        assert result.severity is Severity.REJECT
        assert result.check == "readable"


@pytest.mark.parametrize(
    ("form", "options"),
    [
        ("PNG", {}),
        ("JPEG", {"quality": 95}),
        ("JPEG", {"quality": 90, "progressive": True}),
        ("WEBP", {"quality": 95}),
        ("WEBP", {"lossless": True}),
        ("TIFF", {"compression": "tiff_lzw"}),
        ("TIFF", {"compression": "tiff_deflate"}),
        ("TIFF", {"compression": "packbits"}),
        ("TIFF", {"compression": "jpeg"}),
    ],
)
def test_a_hole_between_blocks_is_caught(form: str, options: dict[str, Any]) -> None:
    """Eight blocks of 512 bytes that never arrived, in the middle of a large file whose end is there."""
    data = bytearray(encoded(_photo(640, 480), form, **options))
    begin = len(data) // 2 // 4096 * 4096
    data[begin : begin + 4096] = bytes(4096)
    assert _fault(bytes(data)) is not None


def test_a_hole_in_a_pdf_is_caught() -> None:
    """4096 bytes that never arrived in the middle of a PDF whose end is there."""
    document = pikepdf.open(io.BytesIO(drawn_pdf(b"")))
    document.pages[0].obj["/Filling"] = pikepdf.Stream(document, np.random.default_rng(1).bytes(20_000))
    data = bytearray(saved_pdf(document))
    data[8192:12288] = bytes(4096)
    assert _fault(bytes(data)) is not None


@pytest.mark.parametrize(
    "picture", [_flat(), _flat().convert("L"), Image.new("RGBA", (4000, 2500))], ids=["RGB", "gray", "clear"]
)
@pytest.mark.parametrize(
    ("form", "options"),
    [
        ("PNG", {"compress_level": 1}),
        ("JPEG", {"quality": 80, "optimize": True}),
        ("JPEG", {"quality": 80, "progressive": True}),
        ("WEBP", {"quality": 80, "method": 4}),
        ("WEBP", {"quality": 5, "method": 0}),
        ("WEBP", {"lossless": True, "quality": 0, "method": 0}),
        ("TIFF", {"compression": "tiff_lzw"}),
        ("TIFF", {"compression": "tiff_deflate"}),
        ("TIFF", {"compression": "packbits"}),
    ],
)
def test_flat_pictures_are_not_taken_for_holes(picture: Image.Image, form: str, options: dict[str, Any]) -> None:
    """Coders write long runs of zeros for flat areas; up to 375,000 in these."""
    data = encoded(picture.convert("RGB") if form == "JPEG" and picture.mode == "RGBA" else picture, form, **options)
    assert _fault(data) is None


def test_what_follows_a_whole_file_is_let_be() -> None:
    """Cameras and phones add previews and films after the end mark."""
    for name in ("png", "jpeg", "webp"):
        assert _fault(FILES[name] + b"something else, " * 40) is None


def test_a_png_with_one_bit_turned_is_caught() -> None:
    """Each chunk's checksum (ISO/IEC 15948 section 5.3) is looked at."""
    data = bytearray(FILES["png"])
    data[len(data) // 2] ^= 4
    assert _fault(bytes(data)) == "has a part that does not match its own checksum"


def test_a_deflated_strip_with_a_gap_is_caught() -> None:
    """Its checksum (RFC 1950 section 2.2) is there, and does not match what inflates: decoders stop before they look at it."""
    data = bytearray(FILES["tiff deflate"])
    with tifffile.TiffFile(io.BytesIO(data)) as tiff:
        begin, length = tiff.pages.first.dataoffsets[0], tiff.pages.first.databytecounts[0]
    data[begin + length // 2 : begin + length - 8] = bytes(length - 8 - length // 2)
    assert _fault(bytes(data)) is not None


def test_holes_lie_between_blocks() -> None:
    """A run of zeros counts only if it begins on a block boundary, and ends on one or with the file."""
    data = b"x" * 1024 + bytes(512) + b"x" * 512
    assert hole_in(data, 0, len(data)) == (1024, 1536)
    assert hole_in(b"x" * 1024 + bytes(700), 0, 1724) == (1024, 1724)
    assert hole_in(b"x" * 1000 + bytes(512) + b"x" * 512, 0, 2024) is None
    assert hole_in(b"x" * 1024 + bytes(600) + b"x" * 512, 0, 2136) is None


@settings(max_examples=150, deadline=None)
@given(
    head=st.sampled_from([FILES[name][:600] for name in FILES]),
    tail=st.binary(max_size=300),
    cut=st.integers(8, 600),
)
def test_nonsense_never_raises(head: bytes, tail: bytes, cut: int) -> None:
    """Whatever follows a file's beginning, the answer is a sentence or nothing, never an exception."""
    data = head[:cut] + tail
    kind = kind_of(data[:1024])
    assert kind is None or fault_of(data, kind) is None or isinstance(fault_of(data, kind), Phrase)


@pytest.mark.parametrize("name", FILES)
def test_changed_bytes_never_raise(name: str, tmp_path: Path) -> None:
    """Thirty copies of each file with a few bytes changed, half of them in its head: an artwork or a finding, no exception."""
    rng = np.random.default_rng(len(name))
    printer = Printer.model_validate({"name": "narrow", "film_width": "60 mm"})  # so that no picture is large and legal
    rule = Rule.model_validate({"title": "t", "gang": {"max_length": "200 mm"}})
    ticket = Ticket.model_validate({"width": "30 mm"})
    path = tmp_path / "changed"
    for _ in range(30):
        data = bytearray(FILES[name])
        for place in (*rng.integers(0, len(data), 2), *rng.integers(8, 400, 2)):
            data[place] = rng.integers(0, 256)
        path.write_bytes(data)
        opened = open_artwork(path, ticket=ticket, rule=rule, printer=printer)
        assert isinstance(opened, Artwork) or opened.severity is Severity.REJECT


def test_a_picture_larger_than_its_data_is_caught() -> None:
    """A header that asks for more rows than there are strips, or bytes (TIFF 6.0 section 8): no memory is spent on it."""
    for compression in ("lzw", None):
        data = bytearray(_tiff(compression=compression, rowsperstrip=16))
        with tifffile.TiffFile(io.BytesIO(data)) as file:
            place = file.pages.first.tags["ImageLength"].valueoffset
        data[place : place + 4] = (9_000_000).to_bytes(4, "little")
        assert _fault(bytes(data)) == "stops before the end of its picture"


def test_kinds_are_told_by_their_bytes() -> None:
    """Kinds by content: each format's first bytes, and a PDF header that does not come first."""
    assert kind_of(FILES["png"]) is Kind.PNG
    assert kind_of(FILES["big tiff"]) is Kind.TIFF
    assert kind_of(b"junk before\n" + FILES["pdf"]) is Kind.PDF
    assert kind_of(b"RIFF\0\0\0\0WAVE") is None
