"""AVIF, GIF and BMP: read as other decoders read them, whole or refused, and what they lack said."""

import io
import struct
from collections.abc import Callable

import cv2
import imagecodecs
import numpy as np
import pytest
from artwork_files import encoded, opened_whole
from PIL import Image

from filmhand.artwork.model import Artwork, Kind
from filmhand.preflight.finding import Finding, Severity
from filmhand.rules import Rule

Opener = Callable[..., Artwork | Finding]

WHOLE = Rule.model_validate({"title": "t", "size": {"trim": False}})


def _checks(artwork: Artwork) -> dict[str, Severity]:
    return {finding.check: finding.severity for finding in artwork.findings}


@pytest.mark.parametrize("channels", [3, 4])
@pytest.mark.parametrize("bits", [8, 10, 12])
def test_avif_as_libavif_reads_it(opened: Opener, photo: Image.Image, channels: int, bits: int) -> None:
    """8 to 12 bits, with alpha: written and read by imagecodecs' libavif, ours within a level of it; deeper ones are noted."""
    values = np.asarray(photo.convert("RGBA"))[..., :channels].astype(np.uint16)
    if channels == 4:
        values[..., 3] = np.arange(160)[None, :]
    deep = values * (2**bits - 1) // 255
    data = imagecodecs.avif_encode(deep.astype(np.uint8 if bits == 8 else np.uint16), bitspersample=bits, level=100)
    theirs = imagecodecs.avif_decode(data).astype(float) * 255 / (2**bits - 1)
    artwork = opened_whole(opened(data, rule=WHOLE))
    assert artwork.kind is Kind.AVIF
    assert np.abs(artwork.pixels[..., :channels] - theirs).max() <= 1
    assert ("depth" in _checks(artwork)) is (bits > 8)


def _with_code_points(data: bytes, primaries: int, transfer: int) -> bytes:
    """The AVIF with other code points in its `colr` box (ISO/IEC 14496-12 section 12.1.5)."""
    at = data.index(b"colrnclx") + 8
    return data[:at] + struct.pack(">HH", primaries, transfer) + data[at + 4 :]


def test_avif_colours_by_code_points(opened: Opener, photo: Image.Image) -> None:
    """ITU-T H.273: 1 and 13 are sRGB's; 9 and 16 are BT.2020 with PQ (HDR), 12 is Display P3's primaries."""
    data = encoded(photo, "AVIF")
    assert not opened_whole(opened(_with_code_points(data, 1, 13), rule=WHOLE)).findings
    assert _checks(opened_whole(opened(_with_code_points(data, 2, 2), rule=WHOLE))) == {"profile": Severity.NOTE}
    for primaries, transfer in ((9, 16), (12, 13), (1, 18)):
        artwork = opened_whole(opened(_with_code_points(data, primaries, transfer), rule=WHOLE))
        assert any("HDR" in str(finding.message) and finding.severity is Severity.WARN for finding in artwork.findings)


def test_avif_sequences_give_their_first_picture(opened: Opener, crest: Image.Image) -> None:
    """And say so."""
    other = Image.new("RGBA", crest.size, (0, 255, 0, 255))
    artwork = opened_whole(opened(encoded(crest, "AVIF", save_all=True, append_images=[other], quality=100)))
    assert np.abs(artwork.pixels[35, 50].astype(int) - (200, 30, 40, 255)).max() <= 3
    assert _checks(artwork)["pages"] is Severity.WARN


def test_gif_gives_its_first_picture_with_its_transparency(opened: Opener, crest: Image.Image) -> None:
    """The clear index is clear, colours as Pillow shows them; frames and the short list of colours are said."""
    other = Image.new("RGBA", crest.size, (0, 255, 0, 255))
    still, moving = encoded(crest, "GIF"), encoded(crest, "GIF", save_all=True, append_images=[other, crest])
    for data, pages in ((still, 1), (moving, 3)):
        artwork = opened_whole(opened(data, rule=WHOLE))
        assert artwork.kind is Kind.GIF
        assert np.array_equal(artwork.pixels[..., 3] > 0, np.asarray(crest)[..., 3] > 0)
        seen = artwork.pixels[..., 3] > 0
        assert np.array_equal(artwork.pixels[seen], np.asarray(Image.open(io.BytesIO(data)).convert("RGBA"))[seen])
        assert _checks(artwork)["palette"] is Severity.NOTE
        assert [finding.value for finding in artwork.findings if finding.check == "pages"] == ([3] if pages > 1 else [])


@pytest.mark.parametrize("mode", ["1", "L", "P", "RGB"])
def test_bmp_as_opencv_reads_it(opened: Opener, photo: Image.Image, mode: str) -> None:
    """1, 8 and 24 bits a pixel, by OpenCV's own decoder."""
    data = encoded(photo.convert(mode), "BMP", dpi=(300, 300))
    theirs = cv2.imdecode(np.frombuffer(data, np.uint8), cv2.IMREAD_COLOR_RGB)
    artwork = opened_whole(opened(data, rule=WHOLE))
    assert artwork.kind is Kind.BMP
    assert np.array_equal(artwork.pixels[..., :3], theirs)
    assert artwork.ppi == pytest.approx((300, 300), rel=1e-3)


def test_a_black_bmp_is_no_hole(opened: Opener) -> None:
    """Zeros throughout are black artwork; white with zeros from one block to another, or to its end, is not whole."""
    assert isinstance(opened(encoded(Image.new("RGB", (100, 100)), "BMP")), Artwork)
    white = encoded(Image.new("RGB", (100, 100), "white"), "BMP")
    for stop in (4096, len(white)):
        finding = opened(white[:1024] + bytes(stop - 1024) + white[stop:])
        assert isinstance(finding, Finding)
        assert "nothing" in str(finding.message)
