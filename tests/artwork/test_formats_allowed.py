"""Only the decoders of formats that filmhand means to open are reached, whatever a stranger sends under whatever name."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from artwork_files import encoded, tiff
from PIL import Image

from filmhand.artwork.model import Artwork
from filmhand.preflight.finding import Finding

Opener = Callable[..., Artwork | Finding]
OURS = {"PNG", "JPEG", "WEBP", "AVIF", "GIF", "BMP", "TIFF"}
Image.init()
OTHERS = sorted(
    (set(Image.SAVE) - OURS - {"PDF", "PALM", "WMF", "GRIB", "HDF5", "BUFR", "DIB", "MPO", "EPS", "SPIDER"}) & set(Image.OPEN)
)
"""What this Pillow writes and would read. Left out: what needs a program or a handler beside it, and other names of ours."""


def _picture(mode: str) -> Image.Image:
    values = np.random.default_rng(1).integers(0, 256, (64, 64, 3), np.uint8)
    return Image.fromarray(values).convert(mode)


def _file(form: str) -> bytes:
    for mode in ("RGB", "P", "L", "1"):
        try:
            return encoded(_picture(mode), form)
        except (OSError, ValueError, KeyError):
            continue
    raise AssertionError(form)


@pytest.fixture
def reached(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Names of Pillow's decoders as they are tried, but for ours."""
    names: list[str] = []
    for form, (factory, accept) in list(Image.OPEN.items()):
        if form not in OURS:

            def recording(*arguments, form=form, factory=factory):  # type: ignore[no-untyped-def]
                names.append(form)
                return factory(*arguments)

            monkeypatch.setitem(Image.OPEN, form, (recording, accept))
    return names


def test_the_list_is_not_empty() -> None:
    """Or the next test would show nothing: JPEG 2000, icons and TGA are among those that Pillow opens by itself."""
    assert {"JPEG2000", "ICO", "TGA", "DDS", "PPM"} <= set(OTHERS)


@pytest.mark.parametrize("form", OTHERS)
def test_other_formats_reach_no_decoder(opened: Opener, reached: list[str], form: str) -> None:
    """Whole files as Pillow writes them: sent back, and no decoder but ours was tried."""
    data = _file(form)
    result = opened(data)
    assert isinstance(result, Finding), form
    assert result.check == "readable"
    assert reached == []


def test_the_recording_sees_a_decoder(reached: list[str], tmp_path: Path) -> None:
    """Pillow left to itself does try them."""
    (tmp_path / "a.bin").write_bytes(_file("PPM"))
    with Image.open(tmp_path / "a.bin"):
        assert "PPM" in reached


@pytest.mark.parametrize("form", sorted(OURS - {"TIFF"}))
def test_a_mark_alone_is_decoded_by_that_format_only(opened: Opener, reached: list[str], form: str) -> None:
    """A file that begins as one format and goes on as another: no other decoder than the first one's is tried."""
    for other in ("JPEG2000", "TGA", "PPM"):
        opened(encoded(_picture("RGB"), form)[:32] + _file(other))
        assert reached == []


CODINGS = dict.fromkeys(("lzw", "zlib", "packbits", "zstd", "lzma", "jpeg", None), True) | dict.fromkeys(
    ("jpeg2000", "webp", "jpegxl", "lerc", "png", "jpegxr"), False
)


@pytest.mark.parametrize(("coding", "is_opened"), CODINGS.items())
def test_codings_within_a_tiff(opened: Opener, coding: str | None, is_opened: bool) -> None:
    """What drawing and photo programs write is opened; other decoders are not reached through TIFF's compression tag."""
    values = np.random.default_rng(2).integers(0, 256, (64, 64, 3), np.uint8)
    try:
        data = tiff(values, photometric="rgb", compression=coding)
    except (ImportError, ValueError, RuntimeError) as problem:
        pytest.skip(f"this imagecodecs does not write it: {problem}")
    result = opened(data)
    assert isinstance(result, Artwork if is_opened else Finding), result
    if isinstance(result, Finding):
        assert "compression" in str(result.message)
