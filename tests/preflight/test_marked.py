"""Pictures for the note, pixel by pixel: what lies on the garment, and that marks do not hide what they mark."""

import io
import shutil
import subprocess
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray
from PIL import Image

from filmhand.artwork.model import Artwork, Kind
from filmhand.preflight.finding import Box, Finding, Report, Severity
from filmhand.preflight.marked import MOST_PX, marked_picture, picture_before
from filmhand.words import Words

WIDE = Path("/usr/share/color/icc/ghostscript/a98.icc")
GARMENT = (27, 27, 29)


def _opened(png: bytes) -> NDArray[np.int64]:
    """h×w×3, signed, so that differences do not wrap around."""
    return np.asarray(Image.open(io.BytesIO(png)).convert("RGB"), np.int64)


def test_the_picture_before_lies_on_the_garment() -> None:
    """Opaque pixels as they are, half transparent ones half over the garment (Porter and Duff's `over`), the garment around."""
    pixels = np.zeros((700, 900, 4), np.uint8)
    pixels[:, :300] = (200, 40, 20, 255)
    pixels[:, 300:600] = (200, 40, 20, 128)
    picture = _opened(picture_before(pixels, garment="#1b1b1d"))
    border = (picture.shape[0] - 700) // 2
    assert picture.shape == (700 + 2 * border, 900 + 2 * border, 3)
    assert border > 10
    row = picture[350 + border]
    assert tuple(row[border + 100]) == (200, 40, 20)
    assert row[border + 450] == pytest.approx((np.array((200, 40, 20)) + GARMENT) / 2, abs=1)
    assert tuple(row[border + 800]) == tuple(row[2]) == GARMENT


@pytest.mark.parametrize("shape", [(3, 5), (4000, 300), (900, 900)])
def test_the_picture_before_is_of_a_size_for_looking(shape: tuple[int, int]) -> None:
    """As the marked one: never larger than its limit, and a tiny one enlarged."""
    picture = _opened(picture_before(np.full((*shape, 4), 255, np.uint8), garment="#ffffff"))
    assert 300 < max(picture.shape) <= MOST_PX


@pytest.mark.outside
def test_the_picture_before_is_shown_through_its_profile() -> None:
    """As LittleCMS's own calculator has it (transicc: relative colorimetric, black point compensated), within two levels."""
    if not WIDE.is_file() or shutil.which("transicc") is None:
        pytest.skip("needs a98.icc (Debian libgs-common) and transicc (liblcms2-utils)")
    command = ["transicc", "-n", "-t1", "-b", "-s", f"-i{WIDE}", "-o*sRGB"]
    answer = subprocess.run(command, input="120 60 200\n", capture_output=True, text=True, check=False).stdout
    expected = [float(value) for value in answer.split()]
    pixels = np.full((700, 700, 4), (120, 60, 200, 255), np.uint8)
    found = _opened(picture_before(pixels, garment="#ffffff", profile=WIDE.read_bytes()))[350, 350]
    assert found == pytest.approx(expected, abs=2)
    assert found != pytest.approx((120, 60, 200), abs=2)


@pytest.mark.parametrize("size", [(1128, 1128), (560, 400), (6000, 4000)])
def test_an_outline_does_not_hide_the_speck_that_it_marks(size: tuple[int, int]) -> None:
    """A speck of a thousandth of the picture: its very pixels are the same with marks and without."""
    pixels = np.zeros((*size, 4), np.uint8)
    top, left = size[0] // 2, size[1] // 2
    side = max(1, round(max(size) / 1000))
    pixels[top : top + side, left : left + side] = (250, 230, 20, 255)
    box = Box(left / size[1], top / size[0], side / size[1], side / size[0])
    finding = Finding("specks", Severity.WARN, Words("A speck."), where=(box,))
    marked = _opened(marked_picture(Artwork(pixels, None, None, Kind.PNG), Report((finding,)), garment="#1b1b1d"))
    plain = _opened(picture_before(pixels, garment="#1b1b1d"))
    speck = np.any(plain != GARMENT, axis=2)
    assert speck.any()
    assert np.array_equal(marked[speck], plain[speck])
    around = np.any(marked != plain, axis=2)
    rows, columns = np.nonzero(speck)
    near = around[max(0, rows.min() - 40) : rows.max() + 40, max(0, columns.min() - 40) : columns.max() + 40]
    assert near.any()
