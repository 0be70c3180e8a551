"""Blocks of strong JPEG compression, made by Pillow's encoder from photographs of scikit-image's wheel."""

import io
from collections.abc import Callable

import numpy as np
import pytest
import skimage.data
from numpy.typing import NDArray
from PIL import Image
from PIL.Image import Resampling

from filmhand.artwork.model import Artwork, Kind, PrintedSize
from filmhand.preflight import jpeg_blocks
from filmhand.preflight.finding import Finding, Severity
from filmhand.rules import Printer, Rule

Picture = NDArray[np.uint8]
Look = Callable[..., tuple[Finding, ...]]

PHOTOGRAPHS = ("astronaut", "camera", "chelsea", "coffee", "coins", "grass", "rocket", "brick")


@pytest.fixture(scope="session")
def look(rule_of: Callable[..., Rule], printer: Printer) -> Look:
    """What the check finds in a picture, with the default limits or another for `warn`."""

    def look(picture: Picture, warn: float = 20) -> tuple[Finding, ...]:
        rule = rule_of(preflight={"jpeg_blocks": {"warn": warn}})
        return jpeg_blocks.check(Artwork(picture, None, None, Kind.PNG), PrintedSize(100, 100), rule=rule, printer=printer)

    return look


def _photograph(name: str) -> Picture:
    return np.asarray(Image.fromarray(getattr(skimage.data, name)()).convert("RGBA"))[:400, :400]


def _jpeg(picture: Picture, quality: int) -> Picture:
    file = io.BytesIO()
    Image.fromarray(picture).convert("RGB").save(file, "JPEG", quality=quality)
    return np.asarray(Image.open(file).convert("RGBA"))


def _share(found: tuple[Finding, ...]) -> float:
    return found[0].value or 0.0 if found else 0.0


@pytest.mark.parametrize("name", PHOTOGRAPHS)
def test_strong_compression_is_found_and_light_is_not(look: Look, name: str) -> None:
    """The bar: quality 75 and better is clean, 20 and worse is found, also when cut to another grid."""
    picture = _photograph(name)
    assert not any(look(_jpeg(picture, quality)) for quality in (95, 85, 75))
    for quality in (20, 15, 10):
        strong = _jpeg(picture, quality)
        assert [finding.severity for finding in look(strong)] == [Severity.WARN], quality
        assert _share(look(strong[3:-2, 5:])) == pytest.approx(_share(look(strong)), abs=6)


def test_enlarged_since(look: Look) -> None:
    """Blocks that were enlarged with the picture are found in their new size, in steps or smooth."""
    strong = _jpeg(_photograph("astronaut")[:300, :300], 15)
    for factor, kernel in ((3, Resampling.NEAREST), (2, Resampling.BICUBIC), (1.5, Resampling.LANCZOS)):
        side = round(300 * factor)
        assert look(np.asarray(Image.fromarray(strong).resize((side, side), kernel))), (factor, kernel)


def test_marks_lie_where_the_blocks_are(look: Look) -> None:
    """Only the right half was compressed: all marks lie there, and cover most of it."""
    picture = _photograph("coffee").copy()
    picture[:, 200:] = _jpeg(picture, 12)[:, 200:]
    (finding,) = look(picture, warn=10)
    assert min(box.left for box in finding.where) >= 0.45
    assert sum(box.width * box.height for box in finding.where) >= 0.3
    assert (finding.value or 0) < 50


def test_steps_of_repeated_pixels_are_no_blocks(look: Look) -> None:
    """A picture enlarged eight times by repeating pixels is said to be enlarged, not to be a JPEG."""
    small = Image.fromarray(_photograph("coffee")[:60, :60])
    assert not look(np.asarray(small.resize((480, 480), Resampling.NEAREST)))


@pytest.mark.parametrize("value", [0, 255])
def test_nothing_to_measure(look: Look, value: int) -> None:
    """Flat, transparent and tiny pictures tell nothing and break nothing."""
    for shape in ((400, 400), (30, 500), (1, 1)):
        assert look(np.full((*shape, 4), value, np.uint8), warn=0) == ()
