"""What enlarging does to edges, on lettering and shapes drawn by Pillow and enlarged by OpenCV and Pillow."""

import cv2
import numpy as np
import pytest
import skimage.data
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFilter, ImageFont

from filmhand.preflight.sharpness import changes_in_a_row, sharpest, softness

Pixels = NDArray[np.uint8]
KERNELS = {"linear": cv2.INTER_LINEAR, "cubic": cv2.INTER_CUBIC, "lanczos": cv2.INTER_LANCZOS4}


def _lettering(*, solid: bool) -> Pixels:
    """Smoothed letters and discs, 480 pixels wide: white on solid navy, or alone on nothing."""
    image = Image.new("RGBA", (480, 360), (20, 30, 70, 255) if solid else (255, 255, 255, 0))
    draw = ImageDraw.Draw(image)
    for row in range(6):
        draw.text(
            (8 + 3 * row, 8 + 56 * row), "Rowing Club 1931", font=ImageFont.load_default(size=48), fill=(255, 255, 255, 255)
        )
    return np.asarray(image)


def _squares(pixels: Pixels) -> list[Pixels]:
    return [pixels[top : top + 240, left : left + 240] for top in (0, 120) for left in (0, 240)]


@pytest.mark.parametrize("solid", [True, False])
def test_drawn_edges_are_sharp(solid: bool) -> None:
    """Somewhere an edge lies between two pixels, and nearly all of its change with it."""
    assert (sharpest(_squares(_lettering(solid=solid))) or 0) > 0.9


@pytest.mark.parametrize("solid", [True, False])
@pytest.mark.parametrize("kernel", KERNELS)
@pytest.mark.parametrize("factor", [1.5, 2.0, 3.0, 4.0])
def test_enlarged_edges_are_not(solid: bool, kernel: str, factor: float) -> None:
    """No step is more than 1.25/f of its edge: the steepest slope of Lanczos' kernel, integrated, with what rounding adds."""
    drawn = _lettering(solid=solid)
    enlarged = cv2.resize(drawn, None, fx=factor, fy=factor, interpolation=KERNELS[kernel])
    sharp = sharpest(_squares(np.asarray(enlarged, np.uint8)))
    assert sharp is not None
    assert sharp <= 1.25 / factor


def test_a_picture_cut_out_sharply_after_enlarging_is_judged_by_its_inside() -> None:
    """Alpha's edges are sharp, those within are not."""
    enlarged = cv2.resize(_lettering(solid=True), None, fx=3, fy=3, interpolation=cv2.INTER_CUBIC)
    enlarged[:, 500:700, 3] = 0
    assert (sharpest(_squares(np.asarray(enlarged[:360, 300:780], np.uint8))) or 0) < 0.5


def test_repeated_pixels_never_change_twice_in_a_row() -> None:
    """From twice on; at one and a half times, half of the pixels stand alone (Pillow's nearest neighbour)."""
    drawn = Image.fromarray(_lettering(solid=True))
    for factor, most in ((2.0, 0.0), (3.0, 0.0), (1.5, 0.6)):
        size = round(drawn.width * factor), round(drawn.height * factor)
        repeated = np.asarray(drawn.resize(size, Image.Resampling.NEAREST))
        assert changes_in_a_row(_squares(repeated)) <= most
    assert changes_in_a_row(_squares(np.asarray(drawn))) > 0.3


@pytest.mark.parametrize("kernel", KERNELS)
@pytest.mark.parametrize("factor", [3.0, 4.0])
def test_flat_colours_with_wide_edges_were_enlarged(kernel: str, factor: float) -> None:
    """By about so much; as drawn, or alone on nothing, nothing is said."""
    drawn = _lettering(solid=True)
    enlarged = cv2.resize(drawn, None, fx=factor, fy=factor, interpolation=KERNELS[kernel])
    assert softness(_squares(np.asarray(enlarged, np.uint8))) == pytest.approx(factor, rel=0.25)
    assert softness(_squares(drawn)) == 1
    feathered = cv2.resize(_lettering(solid=False), None, fx=factor, fy=factor, interpolation=KERNELS[kernel])
    assert softness(_squares(np.asarray(feathered, np.uint8))) == 1


def test_a_photograph_out_of_focus_is_not_flat() -> None:
    """A smooth photograph blurred by Pillow's Gaussian of 2 pixels, with the noise of 8 bits."""
    photo = skimage.data.astronaut()
    blurred = Image.fromarray(photo).filter(ImageFilter.GaussianBlur(2)).convert("RGBA")
    assert softness(_squares(np.asarray(blurred)[:480, :480])) == 1
