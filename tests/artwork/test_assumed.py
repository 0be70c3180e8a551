"""Profiles assumed for artwork that names none: the colours that LittleCMS says, and said; what names its own is left alone."""

import io
import struct
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tifffile
from artwork_files import encoded, tiff
from PIL import Image, PngImagePlugin

from colour.icc.printers import needs_transicc, transicc
from filmhand.artwork.model import Artwork
from filmhand.artwork.open import open_artwork
from filmhand.artwork.profile import Assumed, Profile
from filmhand.intake.ticket import Ticket
from filmhand.preflight.finding import Severity
from filmhand.rules import Printer, Rule

GHOSTSCRIPT = Path("/usr/share/color/icc/ghostscript")
CMYK, WIDE = GHOSTSCRIPT / "default_cmyk.icc", GHOSTSCRIPT / "a98.icc"
pytestmark = [
    pytest.mark.outside,
    pytest.mark.skipif(not (CMYK.exists() and WIDE.exists()), reason="needs default_cmyk.icc, a98.icc (Debian libgs-common)"),
]

Opened = Callable[[bytes], Artwork]


@pytest.fixture
def opened(tmp_path: Path, printer: Printer) -> Opened:
    """Opens bytes in a shop that assumes a profile of each kind."""
    assumed = Assumed(Profile("wide.icc", WIDE.read_bytes()), Profile("offset.icc", CMYK.read_bytes()))

    def open_bytes(data: bytes) -> Artwork:
        path = tmp_path / "artwork"
        path.write_bytes(data)
        artwork = open_artwork(path, ticket=Ticket(copies=1), rule=Rule(title="t"), printer=printer, assumed=assumed)
        assert isinstance(artwork, Artwork), artwork
        return artwork

    return open_bytes


def said(artwork: Artwork) -> tuple[Severity, str]:
    """The one finding on profiles."""
    (finding,) = [finding for finding in artwork.findings if finding.check == "profile"]
    return finding.severity, str(finding.message)


def inks(height: int = 16) -> np.ndarray[Any, np.dtype[np.uint8]]:
    """Twelve mixtures side by side, of colours within sRGB: at its bounds Pillow's 8-bit way through LittleCMS is rougher."""
    row = np.random.default_rng(70).integers(20, 130, (12, 4), np.uint8)
    return np.repeat(np.repeat(row[None], height, axis=0), 16, axis=1)


def psd(planes: np.ndarray[Any, np.dtype[np.uint8]], mode: int) -> bytes:
    """A flat PSD of planes (n, h, w) as stored (Adobe Photoshop File Formats Specification): no resources, no layers, raw."""
    count, height, width = planes.shape
    head = struct.pack(">4sH6xHIIHH", b"8BPS", 1, count, height, width, 8, mode)
    return head + bytes(12) + struct.pack(">H", 0) + planes.tobytes()


@needs_transicc
@pytest.mark.parametrize("form", ["TIFF", "JPEG", "PSD"])
def test_cmyk_through_the_assumed_profile(opened: Opened, form: str) -> None:
    """Within two levels (JPEG: five) of LittleCMS's calculator: relative colorimetric, black point compensated, to sRGB."""
    values = inks()
    if form == "TIFF":
        file = io.BytesIO()
        tifffile.imwrite(file, values, photometric="separated")
        data = file.getvalue()
    elif form == "JPEG":
        data = encoded(Image.fromarray(values, "CMYK"), "JPEG", quality=100, subsampling=0)
    else:
        data = psd(np.moveaxis(255 - values, -1, 0), 4)
    artwork = opened(data)
    expected = transicc(values[0, 8::16] / 2.55, "-t1", "-b", "-s", f"-i{CMYK}", "-o*sRGB")
    assert artwork.profile is None
    assert np.abs(artwork.pixels[8, 8::16, :3] - expected).max() <= (5 if form == "JPEG" else 2)
    severity, message = said(artwork)
    assert (severity, "CMYK" in message, "offset.icc" in message) == (Severity.NOTE, True, True)
    assert artwork.source_ink is not None  # how much ink was asked for is told of the file's own inks


@pytest.mark.parametrize("form", ["TIFF", "PNG", "WEBP", "gray"])
def test_rgb_and_gray_stay_in_the_assumed_profile(opened: Opened, form: str) -> None:
    """Pixels are as stored, and their space is the assumed one."""
    pixels = np.random.default_rng(71).integers(0, 256, (40, 40, 1 if form == "gray" else 3), np.uint8)
    picture = Image.fromarray(pixels[..., 0] if form == "gray" else pixels)
    data = {
        "TIFF": lambda: tiff(pixels, photometric="rgb"),
        "WEBP": lambda: encoded(picture, "WEBP", lossless=True),
    }.get(form, lambda: encoded(picture, "PNG"))()
    artwork = opened(data)
    assert artwork.profile == WIDE.read_bytes()
    assert np.array_equal(artwork.pixels[..., :3], np.broadcast_to(pixels, (40, 40, 3)))
    assert "wide.icc" in said(artwork)[1]


def test_what_says_srgb_is_srgb(opened: Opened) -> None:
    """By PNG's chunk (ISO/IEC 15948 section 11.3.3.5) or by Exif's colour space; nothing is assumed, nothing said."""
    info = PngImagePlugin.PngInfo()
    info.add(b"sRGB", b"\0")
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0xA001] = 1
    picture = Image.new("RGB", (40, 40), (200, 30, 40))
    for data in (encoded(picture, "PNG", pnginfo=info), encoded(picture, "JPEG", exif=exif)):
        artwork = opened(data)
        assert artwork.profile is None
        assert [finding for finding in artwork.findings if finding.check == "profile"] == []


def test_a_profile_inside_goes_first_and_a_useless_one_is_replaced(opened: Opened) -> None:
    """sRGB inside stays; instead of a damaged one the assumed is taken, with a warning that names it."""
    picture = Image.new("RGB", (40, 40), (200, 30, 40))
    own = (GHOSTSCRIPT / "srgb.icc").read_bytes()
    assert opened(encoded(picture, "PNG", icc_profile=own)).profile == own
    artwork = opened(encoded(picture, "PNG", icc_profile=own[:300]))
    assert artwork.profile == WIDE.read_bytes()
    severity, message = said(artwork)
    assert (severity, "wide.icc" in message) == (Severity.WARN, True)


def test_cielab_and_svg_need_none(opened: Opened) -> None:
    """CIELAB says what is seen, and SVG's colours are sRGB by its standard (SVG 2 section 13.9)."""
    svg = (
        b'<svg xmlns="http://www.w3.org/2000/svg" width="20mm" height="20mm"><rect width="70" height="70" fill="#c4152b"/></svg>'
    )
    lab = np.full((40, 40, 3), (60, 20, 30), np.uint8)
    for data in (svg, tiff(lab, photometric="cielab")):
        artwork = opened(data)
        assert artwork.profile is None
        assert not any("wide.icc" in str(finding.message) for finding in artwork.findings)
