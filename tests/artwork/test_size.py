"""Printed size, and pixels at that size: never enlarged, never a dark fringe."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from skimage import data as photos

from filmhand.artwork.bleed import REACH_PX, bled
from filmhand.artwork.model import Artwork, Kind, PrintedSize
from filmhand.artwork.resample import resampled
from filmhand.artwork.size import at_print_resolution, printed_size
from filmhand.intake.ticket import Ticket
from filmhand.rules import Printer, Rule

ArtworkOf = Callable[..., Artwork]


def _artwork(width: int, height: int, ppi: tuple[float, float] | None = None) -> Artwork:
    return Artwork(np.zeros((height, width, 4), np.uint8), None, ppi, Kind.PNG)


def _rule(**size: Any) -> Rule:
    return Rule.model_validate({"title": "t", "size": size})


@pytest.mark.parametrize(
    ("ticket", "size", "expected"),
    [
        ({"width": "200 mm"}, {"width": "50 mm"}, (200, 100)),  # the ticket before the rule
        ({"height": "30 mm"}, {}, (60, 30)),
        ({"width": "200 mm", "height": "60 mm"}, {}, (120, 60)),  # both: fitted inside
        ({"width": "80 mm", "height": "60 mm"}, {}, (80, 40)),
        ({"width": "9 m"}, {"max": ["400 mm", "500 mm"]}, (9000, 4500)),  # ordered too large: for preflight to say
        ({}, {"width": "280 mm"}, (280, 140)),
        ({}, {"height": "28 mm"}, (56, 28)),
        ({}, {"width": "280 mm", "height": "70 mm"}, (140, 70)),
        ({}, {"width": "600 mm", "max": ["200 mm", "500 mm"]}, (400, 200)),  # not ordered: within the bounds, however it lies
        ({}, {"width": "280 mm", "enlarge": False}, (101.6, 50.8)),  # 1200 px at 300 ppi are 4 in
        ({}, {"width": "60 mm", "enlarge": False}, (60, 30)),
        ({"width": "280 mm"}, {"enlarge": False}, (280, 140)),
        ({}, {}, (101.6, 50.8)),
    ],
)
def test_size_comes_from_ticket_then_rule_then_file(
    ticket: dict[str, str], size: dict[str, Any], expected: tuple[float, float]
) -> None:
    """1200 × 600 pixels at 300 ppi, in proportion."""
    found = printed_size(_artwork(1200, 600, (300, 300)), ticket=Ticket.model_validate(ticket), rule=_rule(**size))
    assert (found.width_mm, found.height_mm) == pytest.approx(expected)


def test_without_any_word_300_pixels_an_inch_are_assumed() -> None:
    """Opening then holds the job (test_open.py)."""
    found = printed_size(_artwork(600, 300), ticket=Ticket(), rule=_rule(enlarge=False))
    assert (found.width_mm, found.height_mm) == pytest.approx((50.8, 25.4))


def test_pixels_need_not_be_square() -> None:
    """200 × 100 ppi: twice as wide a pixel down as across; the proportions are those of the print."""
    found = printed_size(_artwork(400, 400, (200, 100)), ticket=Ticket.model_validate({"width": "50 mm"}), rule=_rule())
    assert found.height_mm == pytest.approx(100)


@given(
    width=st.integers(1, 9000),
    height=st.integers(1, 9000),
    box=st.tuples(st.floats(1, 900), st.floats(1, 900)),
)
def test_fitted_touches_one_side_and_keeps_proportion(width: int, height: int, box: tuple[float, float]) -> None:
    """Of any picture in any box."""
    ticket = Ticket.model_construct(**{**dict(Ticket()), "width": box[0], "height": box[1]})
    size = printed_size(_artwork(width, height), ticket=ticket, rule=_rule())
    assert size.width_mm / size.height_mm == pytest.approx(width / height)
    assert size.width_mm <= box[0] * (1 + 1e-9)
    assert size.height_mm <= box[1] * (1 + 1e-9)
    assert size.width_mm == pytest.approx(box[0]) or size.height_mm == pytest.approx(box[1])


def _with_alpha(picture: np.ndarray) -> np.ndarray:
    """A photo with a soft-edged disc as its alpha."""
    height, width = picture.shape[:2]
    y, x = np.mgrid[:height, :width]
    radius = np.hypot(x - width / 2, y - height / 2)
    alpha = np.clip((min(height, width) * 0.45 - radius) * 16, 0, 255)
    return np.dstack((picture, alpha)).astype(np.uint8)


def _psnr(first: np.ndarray, second: np.ndarray) -> float:
    return float(10 * np.log10(255**2 / max(1e-12, np.mean((first.astype(float) - second) ** 2))))


def _lanczos(values: np.ndarray, length: int) -> np.ndarray:
    """Float64 Lanczos-3 along the first axis: support × scale, weights that sum to 1, half-pixel centres."""
    scale = values.shape[0] / length
    stretch = max(1.0, scale)
    centres = (np.arange(length) + 0.5) * scale - 0.5
    offsets = (np.arange(values.shape[0])[None] - centres[:, None]) / stretch
    weights = np.where(np.abs(offsets) < 3, np.sinc(offsets) * np.sinc(offsets / 3), 0)
    weights /= weights.sum(axis=1, keepdims=True)
    return np.tensordot(weights, values, axes=(1, 0))


@pytest.mark.parametrize("factor", [0.21, 1 / 3, 0.5, 0.83])
@pytest.mark.parametrize("name", ["astronaut", "coffee", "chelsea"])
def test_reducing_equals_lanczos_on_premultiplied_data(name: str, factor: float) -> None:
    """Against a float64 Lanczos-3 and against Pillow over the whole premultiplied picture at once: at least 54 dB each."""
    pixels = _with_alpha(getattr(photos, name)())
    height, width = (round(side * factor) for side in pixels.shape[:2])
    found = resampled(pixels, width, height).astype(float)
    found[..., :3] *= found[..., 3:] / 255
    exact = pixels.astype(float)
    exact[..., :3] *= exact[..., 3:] / 255
    exact = np.clip(_lanczos(np.swapaxes(_lanczos(exact, height), 0, 1), width), 0, 255).swapaxes(0, 1)
    bands = Image.fromarray(pixels).convert("RGBa").resize((width, height), Image.Resampling.LANCZOS)
    pillow = np.frombuffer(bands.tobytes(), np.uint8).reshape(height, width, 4)
    assert _psnr(found, pillow) >= 54
    assert _psnr(found, exact) >= 54


def test_bands_leave_no_seam() -> None:
    """A picture of several bands equals Pillow's of the whole, to one level."""
    pixels = np.random.default_rng(0).integers(0, 256, (2600, 40, 4), dtype=np.uint8)
    pixels[..., 3] = 255
    whole = np.asarray(Image.fromarray(pixels).resize((21, 1301), Image.Resampling.LANCZOS))
    assert np.abs(resampled(pixels, 21, 1301).astype(int) - whole).max() <= 1


def test_red_beside_transparent_green_makes_no_fringe(printer: Printer) -> None:
    """Opaque red beside transparent green, 64 to 23 pixels: no green wherever alpha is more than 8."""
    pixels = np.zeros((64, 64, 4), np.uint8)
    pixels[:, :30] = (255, 0, 0, 255)
    pixels[:, 30:] = (0, 255, 0, 0)
    small = at_print_resolution(
        Artwork(pixels, None, None, Kind.PNG), PrintedSize(25.4 * 23 / 720, 25.4 * 23 / 720), printer=printer
    )
    seen = small.pixels[small.pixels[..., 3] > 8]
    assert small.pixels.shape == (23, 23, 4)
    assert seen[:, 1].max() <= 2
    assert seen[:, 0].min() >= 253


def test_enlarging_straight_colour_afterwards_makes_no_dark_fringe(printer: Printer) -> None:
    """White art whose transparent pixels are black: colour and alpha, enlarged apart, stay white wherever alpha shows."""
    pixels = np.zeros((50, 50, 4), np.uint8)
    pixels[15:35, 15:35] = 255
    bare = at_print_resolution(Artwork(pixels, None, None, Kind.PNG), PrintedSize(50, 50), printer=printer)
    colour = Image.fromarray(bare.pixels[..., :3]).resize((350, 350), Image.Resampling.BILINEAR)
    alpha = np.asarray(Image.fromarray(bare.pixels[..., 3]).resize((350, 350), Image.Resampling.BILINEAR))
    assert np.asarray(colour)[alpha > 0].min() == 255


def test_colour_is_bled_from_the_nearest_pixel_and_alpha_is_not() -> None:
    """Two colours side by side: within reach each transparent pixel takes the nearer one's, beyond it keeps its own."""
    pixels = np.zeros((30, 40, 4), np.uint8)
    pixels[10:20, 10:20] = (250, 10, 10, 255)
    pixels[10:20, 20:30] = (10, 10, 250, 255)
    result = bled(pixels, pixels[..., 3])
    assert np.array_equal(result[..., 3], pixels[..., 3])
    for step in range(1, REACH_PX + 1):
        assert tuple(result[10 - step, 12, :3]) == (250, 10, 10)
        assert tuple(result[19 + step, 27, :3]) == (10, 10, 250)
    assert tuple(result[10 - REACH_PX - 1, 12, :3]) == (0, 0, 0)
    assert REACH_PX >= 3


def test_bleeding_reaches_across_bands() -> None:
    """Rows 511 and 512 lie in different bands."""
    pixels = np.zeros((1030, 8, 4), np.uint8)
    pixels[512:514] = (9, 99, 199, 255)
    result = bled(pixels, pixels[..., 3])
    assert np.all(result[512 - REACH_PX : 514 + REACH_PX, :, :3] == (9, 99, 199))


@pytest.mark.parametrize(("mm", "expected"), [(25.4, (600, 300)), (10, (283, 142)), (300, (600, 300))])
def test_reduced_to_the_printers_resolution_and_never_enlarged(printer: Printer, mm: float, expected: tuple[int, int]) -> None:
    """720 dots an inch; 10 mm are 283.5 of them."""
    found = at_print_resolution(_artwork(600, 300), PrintedSize(mm, mm / 2), printer=printer)
    assert (found.width_px, found.height_px) == expected
    assert found.ppi is not None
    assert found.ppi[0] <= 720 * 1.002


def test_traces_of_alpha_are_settled(printer: Printer) -> None:
    """Less than 3 % becomes nothing and more than 97 % everything: ripples of resampling would print as lone dots and holes."""
    pixels = np.full((1, 256, 4), 100, np.uint8)
    pixels[0, :, 3] = np.arange(256)
    alpha = at_print_resolution(Artwork(pixels, None, None, Kind.PNG), PrintedSize(100, 1), printer=printer).pixels[0, :, 3]
    assert np.all(alpha[:8] == 0)
    assert np.all(alpha[248:] == 255)
    assert np.array_equal(alpha[8:248], np.arange(8, 248))


def test_the_artwork_given_is_not_changed(printer: Printer) -> None:
    """The caller's pixels are read only; with or without reducing."""
    pixels = np.random.default_rng(1).integers(0, 256, (60, 60, 4), dtype=np.uint8)
    pixels.flags.writeable = False
    for mm in (1.0, 100.0):
        at_print_resolution(Artwork(pixels, None, None, Kind.PNG), PrintedSize(mm, mm), printer=printer)
