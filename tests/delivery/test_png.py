"""The PNG writer, as Pillow reads it."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from filmhand.delivery.png import PngWriter


@pytest.mark.parametrize("rows_at_a_time", [1, 7, 100])
def test_pillow_reads_the_same_pixels(tmp_path: Path, rows_at_a_time: int) -> None:
    """Rows given a few at a time, sRGB and resolution said; Pillow checks every checksum."""
    pixels = np.random.default_rng(0).integers(0, 256, (61, 33, 3)).astype(np.uint8)
    with PngWriter(tmp_path / "a.png", width=33, height=61, resolution=(45.0, 90.0)) as png:
        for top in range(0, 61, rows_at_a_time):
            png.append(pixels[top : top + rows_at_a_time])
    with Image.open(tmp_path / "a.png") as picture:
        assert np.array_equal(np.asarray(picture), pixels)
        assert picture.info["dpi"] == pytest.approx((45, 90), abs=0.02)
        assert picture.info["srgb"] == 0
