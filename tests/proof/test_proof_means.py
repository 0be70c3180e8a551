"""Dots to means: what counts as film, what the eye blends, where there is most to see, how much of a sheet is held at once."""

import tracemalloc
from pathlib import Path

import numpy as np
import pytest
from scipy import ndimage

from filmhand.proof.delivered import DeliveredSheet
from filmhand.proof.dots import Dots, film_of, white_of
from filmhand.proof.means import Means, averaged, blended
from filmhand.proof.picture import LONGEST, Scale
from filmhand.proof.region import parse_region, parse_zoom
from filmhand.proof.sweep import means_in_bands
from filmhand.proof.telling import most_telling, telling_of
from proof.sheets import INKS, Levels, deliver, placed, printer

ONE_BIT = np.array([0, 1], np.float32)
GARMENT = np.ones((1, 3))


def window(planes: dict[str, Levels], *, bits: int = 1) -> Dots:
    """Dots on one garment."""
    shape = next(iter(planes.values())).shape
    shares = np.linspace(0, 1, 1 << bits, dtype=np.float32)
    return Dots(bits, planes, dict.fromkeys(planes, shares), GARMENT, np.zeros(shape, np.uint8))


def test_film_runs_together_but_keeps_its_holes() -> None:
    """Dots close up as scipy closes them by 3 × 3: gaps of thin white go, a bare 3 × 3 stays; so for white under it."""
    rng = np.random.default_rng(4)
    white, cyan = (rng.random((120, 140)) < share for share in (0.35, 0.1))
    white[40:60, 50:90] = cyan[40:60, 50:90] = False
    dots = window({"C": cyan.astype(np.uint8), "W": white.astype(np.uint8)})
    square, inner = np.ones((3, 3), bool), np.s_[2:-2, 2:-2]
    film = film_of(dots)
    assert np.array_equal(film[inner] == 255, ndimage.binary_closing(cyan | white, square)[inner])
    assert np.array_equal(white_of(dots, film)[inner] == 255, ndimage.binary_closing(white, square)[inner])
    assert not film[42:58, 52:88].any()


def test_thin_white_is_whole_film() -> None:
    """60 % of white in a blue-noise manner, never two bare dots side by side in both directions: all of it is film."""
    y, x = np.mgrid[0:60, 0:60]
    white = ((x + 2 * y) % 5 < 3).astype(np.uint8)
    means = averaged(window({"W": white}), (10, 10))
    assert means.film.min() == 1
    assert means.laid["W"] == pytest.approx(0.6)


def test_means_are_those_of_numpy() -> None:
    """Two bits, blocks of 7 × 5: mean shares; a window that is no whole number of blocks is refused."""
    levels = np.random.default_rng(5).integers(0, 4, (40, 63)).astype(np.uint8)
    dots = window({"C": levels}, bits=2)
    assert averaged(dots, (7, 5)).laid["C"] == pytest.approx((levels / 3).reshape(8, 5, 9, 7).mean(axis=(1, 3)), abs=1e-6)
    with pytest.raises(ValueError, match="not made of blocks"):
        averaged(dots, (8, 5))


def test_blending_is_scipys_gaussian() -> None:
    """The same as scipy.ndimage.gaussian_filter with nothing past the edges; it keeps sums away from them."""
    film = np.random.default_rng(6).random((60, 50)).astype(np.float32)
    means = Means(film, film, {"C": film / 2}, GARMENT, np.zeros(film.shape, np.uint8))
    soft = blended(means, (1.5, 0.8))
    wanted = ndimage.gaussian_filter(film, (0.8, 1.5), mode="constant", truncate=6)
    assert soft.film == pytest.approx(wanted, abs=2e-3)
    assert soft.laid["C"] == pytest.approx(wanted / 2, abs=1e-3)
    assert blended(means, (0.0, 0.0)) is means


def test_the_most_telling_place_has_screened_film_at_an_edge() -> None:
    """Of bare film, solid film, its bare edge, an even screen, and a screen that meets solid film, the last is shown."""
    film = np.zeros((120, 100), np.float32)
    film[10:40, 10:40] = 1  # solid, with edges
    film[10:40, 60:90] = 0.5  # a screen
    film[70:100, 50:70], film[70:100, 70:90] = 0.4, 1  # both
    means = Means(film, film, {"C": film, "W": film}, GARMENT, np.zeros(film.shape, np.uint8))
    left, top = most_telling(telling_of(means), (12, 12))
    assert 58 <= left <= 70
    assert 66 <= top <= 92
    assert most_telling(telling_of(means), (500, 500)) == (0, 0)


def test_nowhere_to_look_is_a_place_too() -> None:
    """A design with no film gives its corner, and no fault."""
    nothing = np.zeros((9, 9), np.float32)
    assert most_telling(telling_of(Means(nothing, nothing, {"W": nothing}, GARMENT, nothing.astype(np.uint8))), (3, 3)) == (0, 0)


@pytest.mark.parametrize(("width", "length"), [(17008, 28346), (17008, 283465), (28346, 17008), (800, 900)])
def test_a_whole_sheet_fits_its_picture(width: int, length: int) -> None:
    """At most so many pixels along, at least half as many where the sheet has the dots, and blended as the eye does."""
    scale = Scale.of_whole(width, length, resolution=(720, 720))
    longest = max(scale.size(width, length))
    assert longest <= LONGEST
    assert longest > LONGEST / 2 or scale.block == (5, 5)
    assert min(scale.blend_px((720, 720))) > 0


@pytest.mark.parametrize(
    ("zoom", "block", "magnified"), [(1, 1, 1), (8, 1, 8), (2.4, 1, 2), (0.5, 2, 1), (0.3, 3, 1), (0.9, 2, 1)]
)
def test_any_zoom_is_a_whole_scale(zoom: float, block: int, magnified: int) -> None:
    """Whole pixels a dot, or whole dots a pixel; dots as fine as these are not blended."""
    scale = Scale.of(zoom, resolution=(720, 720))
    assert (scale.block, scale.magnified) == ((block, block), magnified)
    assert scale.blend_px((720, 720)) == (0, 0)


def test_words_of_a_region_and_a_zoom() -> None:
    """Numbers as a person writes them; what is none is refused with an example."""
    region = parse_region(" 12, 40.5 8 8")
    assert (region.left_mm, region.top_mm, region.width_mm, region.height_mm) == (12, 40.5, 8, 8)
    assert [parse_zoom(text) for text in ("8", "1/4", "0.25")] == [8, 0.25, 0.25]
    for text in ("", "1 2 3", "1 2 3 0", "a b c d", "1 2 3 4 5", "1 2 inf 4"):
        with pytest.raises(ValueError, match="left, top, width and height"):
            parse_region(text)
    for text in ("0", "-1", "1/0", "big", "65", "nan"):
        with pytest.raises(ValueError, match="pixels a dot"):
            parse_zoom(text)


def test_a_longer_sheet_takes_no_more_memory(tmp_path: Path) -> None:
    """Four times as long: the most memory held at once grows by less than a tenth (tracemalloc; numpy tells it of arrays)."""
    peaks = []
    for times in (1, 4):
        row = (np.arange(1600) % 3 == 0).astype(np.uint8)
        planes = {ink: np.broadcast_to(row, (20_000 * times, 1600)) for ink in INKS}
        folder = deliver(tmp_path / f"s{times}", planes, [placed((0, 0, 1600, 20_000 * times))])
        with DeliveredSheet(folder, printer=printer()) as sheet:
            scale = Scale.of(1 / 16, resolution=(720, 720))
            tracemalloc.start()
            rows = sum(len(means.film) for means in means_in_bands(sheet, sheet.frame, scale=scale, is_flipped=False))
            peaks.append(tracemalloc.get_traced_memory()[1])
            tracemalloc.stop()
        assert rows == -(-20_000 * times // 16)
    assert peaks[1] < 1.1 * peaks[0]
