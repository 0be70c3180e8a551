"""Artwork enlarged before it came: photographs of scikit-image's wheel and drawn art, enlarged by three libraries."""

import io
from collections.abc import Callable
from typing import Any

import cv2
import numpy as np
import pytest
import skimage.data
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from PIL.Image import Resampling
from skimage.transform import resize

from filmhand.artwork.model import Artwork, Kind, PrintedSize
from filmhand.preflight import enlarged
from filmhand.preflight.enlarged import enlargement
from filmhand.preflight.finding import Severity
from filmhand.rules import Printer, Rule

Picture = NDArray[np.uint8]
RuleOf = Callable[..., Rule]

PHOTOGRAPHS = ("astronaut", "camera", "chelsea", "coffee", "coins", "grass", "rocket", "brick")
KERNELS = (Resampling.NEAREST, Resampling.BILINEAR, Resampling.BICUBIC, Resampling.LANCZOS)


def _photograph(name: str) -> Picture:
    return np.asarray(Image.fromarray(getattr(skimage.data, name)()).convert("RGBA"))[:400, :400]


def _scaled(picture: Picture, factor: float, kernel: Resampling) -> Picture:
    size = round(picture.shape[1] * factor), round(picture.shape[0] * factor)
    return np.asarray(Image.fromarray(picture).resize(size, kernel))


def _jpeg(picture: Picture, quality: int) -> Picture:
    file = io.BytesIO()
    Image.fromarray(picture).convert("RGB").save(file, "JPEG", quality=quality)
    return np.asarray(Image.open(file).convert("RGBA"))


def _artwork(picture: Picture, kind: Kind = Kind.PNG) -> Artwork:
    return Artwork(picture, None, None, kind)


def _opaque(picture: Picture) -> Artwork:
    return _artwork(np.dstack([picture, np.full(picture.shape[:2], 255, np.uint8)]))


def _art() -> Picture:
    """Flat shapes and lettering with antialiased edges on nothing: drawn eight times as large and averaged, and a gradient."""
    image = Image.new("RGBA", (400 * 8, 400 * 8), (200, 30, 40, 0))
    draw = ImageDraw.Draw(image)
    draw.ellipse((300, 300, 2500, 2300), fill=(200, 30, 40, 255))
    draw.polygon([(1500, 200), (3100, 1700), (1300, 2900)], fill=(20, 60, 160, 255))
    for row in range(8):
        draw.text((200, 350 * row), "Harbour rowing club 1897", fill=(250, 250, 240, 255), font_size=230 + 20 * row)
    art = np.array(image.reduce(8))
    art[300:, :, :3] = np.linspace(40, 220, 400).astype(np.uint8)[None, :, None]
    return art


@pytest.mark.parametrize("kernel", KERNELS)
@pytest.mark.parametrize("name", PHOTOGRAPHS)
def test_the_factor_of_an_enlarged_photograph(name: str, kernel: Resampling) -> None:
    """Pillow's kernels at the factors of the bar, and one between: each measured within 5 %."""
    factors = (1.5, 2, 2.6, 3, 4)
    found = [enlargement(_artwork(_scaled(_photograph(name), factor, kernel))) for factor in factors]
    assert found == pytest.approx(factors, rel=0.05)


@pytest.mark.parametrize("name", PHOTOGRAPHS)
def test_an_untouched_photograph_is_not_called_enlarged(name: str) -> None:
    """As it is, as a JPEG of several qualities, out of focus, noisy, and reduced."""
    picture = _photograph(name)
    noise = np.random.default_rng(1).normal(0, 4, picture.shape)
    changed = {
        "as it is": picture,
        **{f"quality {quality}": _jpeg(picture, quality) for quality in (95, 85, 70, 50)},
        "defocus": np.asarray(cv2.GaussianBlur(picture, (0, 0), 1.2)),
        "defocus, quality 90": _jpeg(np.asarray(cv2.GaussianBlur(picture, (0, 0), 1.2)), 90),
        "noise": np.clip(np.rint(picture + noise), 0, 255).astype(np.uint8) | np.array([0, 0, 0, 255], np.uint8),
        "reduced": _scaled(picture, 0.7, Resampling.BICUBIC),
    }
    assert {label: enlargement(_artwork(one)) for label, one in changed.items()} == dict.fromkeys(changed, 1.0)


@pytest.mark.parametrize("name", ["astronaut", "coins"])
def test_other_libraries_kernels(name: str) -> None:
    """OpenCV's kernels and scikit-image's splines differ from Pillow's; what they leave is told alike."""
    picture = _photograph(name)[:300, :300, :3]
    for factor in (1.5, 2, 3):
        for kernel in (cv2.INTER_NEAREST, cv2.INTER_LINEAR, cv2.INTER_CUBIC, cv2.INTER_LANCZOS4):
            large = np.asarray(cv2.resize(picture, None, fx=factor, fy=factor, interpolation=kernel), np.uint8)
            assert enlargement(_opaque(large)) == pytest.approx(factor, rel=0.05), (factor, kernel)
        size = round(picture.shape[0] * factor), round(picture.shape[1] * factor)
        spline = np.rint(resize(picture.astype(float), size, order=3, anti_aliasing=False).clip(0, 255)).astype(np.uint8)
        assert enlargement(_opaque(spline)) == pytest.approx(factor, rel=0.05), (factor, "spline")


def test_flat_art() -> None:
    """Lettering, shapes and a gradient with smooth edges are as they should be; enlarged, in steps or smoothly, they are told."""
    art = _art()
    assert enlargement(_artwork(art)) == 1
    assert enlargement(_artwork(_jpeg(art, 90))) == 1
    for factor in (2, 3, 4):
        for kernel in (Resampling.NEAREST, Resampling.BICUBIC):
            assert enlargement(_artwork(_scaled(art, factor, kernel))) == pytest.approx(factor, rel=0.05), (factor, kernel)


def test_a_plain_pattern_is_not_called_enlarged() -> None:
    """The squares of scikit-image's chessboard are 25 pixels wide: a pattern, not a picture of few pixels."""
    board = np.asarray(Image.fromarray(skimage.data.checkerboard()).convert("RGBA"))
    assert enlargement(_artwork(board)) == 1


def test_only_what_is_seen_counts() -> None:
    """What lies under transparent pixels, here an enlarged picture, is not looked at."""
    picture = _photograph("coffee").copy()
    picture[:, 200:] = _scaled(_photograph("camera")[:200, :100], 2, Resampling.BICUBIC)
    picture[:, 200:, 3] = 0
    assert enlargement(_artwork(picture)) == 1


@pytest.mark.parametrize("value", [0, 255])
def test_nothing_to_measure(value: int) -> None:
    """Flat, transparent and tiny pictures tell nothing and break nothing."""
    for shape in ((400, 400), (30, 500), (1, 1), (121, 239)):
        assert enlargement(_artwork(np.full((*shape, 4), value, np.uint8))) == 1


@pytest.mark.parametrize(("ppi", "severity"), [(239, Severity.REJECT), (359, Severity.WARN), (400, None)])
def test_the_true_resolution_against_its_limits(rule_of: RuleOf, printer: Printer, ppi: float, severity: Severity | None) -> None:
    """Enlarged three times: the value is a third of the effective resolution, and only past a limit is anything said."""
    art = _artwork(_scaled(_photograph("coffee"), 3, Resampling.BICUBIC))
    size = PrintedSize(art.width_px * 25.4 / ppi, art.height_px * 25.4 / ppi)
    limits: dict[str, Any] = {"true_ppi": {"warn": 120, "reject": 80}}
    found = enlarged.check(art, size, rule=rule_of(preflight=limits), printer=printer)
    assert [finding.severity for finding in found] == ([] if severity is None else [severity])
    for finding in found:
        assert finding.value == pytest.approx(ppi / 3, rel=0.03)
        assert f"{ppi:.0f} pixels an inch" in str(finding.message)
        assert "about 3 times" in str(finding.message)


def test_a_drawing_is_not_measured(rule_of: RuleOf, printer: Printer) -> None:
    """Drawing a PDF enlarges the pictures in it; that is not the customer's doing, and resolution.py knows their own."""
    picture = _scaled(_photograph("coffee"), 3, Resampling.BICUBIC)
    for kind, count in ((Kind.PNG, 1), (Kind.PDF, 0)):
        assert len(enlarged.check(_artwork(picture, kind), PrintedSize(400, 400), rule=rule_of(), printer=printer)) == count
