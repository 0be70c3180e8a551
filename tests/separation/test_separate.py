"""From artwork to planes."""

import tracemalloc

import numpy as np
import pytest
from looking import Build, opaque

from filmhand.artwork.model import Artwork, Kind, PrintedSize
from filmhand.preflight.finding import Severity
from filmhand.preflight.out_of_gamut import check
from filmhand.rules import Ink, Limits, Printer, Rule
from filmhand.separation.exact import ExactInks
from filmhand.separation.separate import out_of_gamut_percent, separate

SIZE = PrintedSize(100, 50)


def artwork_of(pixels: np.ndarray) -> Artwork:
    """Pixels (h, w, 4) as an opened file."""
    return Artwork(np.asarray(pixels, np.uint8), None, None, Kind.PNG)


def printer_of(inks: str, *, second_white: bool = False) -> Printer:
    """A printer with these inks in print order."""
    colours = tuple(Ink(ink) for ink in inks)
    return Printer(name="test", film_width="600 mm", inks=colours, highlight_white=second_white)


def test_planes_in_print_order(coarse: Build) -> None:
    """Each ink goes to its own plane whatever the order, inks unknown to the table stay empty, white comes last."""
    table = coarse("#ffffff", underbase={"density": 80})
    pixels = np.random.default_rng(1).integers(0, 256, (20, 30, 4), np.uint8)
    inks, coverage, white = table.apply(pixels)
    rule = Rule(title="test", underbase={"density": 80})
    found = separate(artwork_of(pixels), SIZE, table=table, rule=rule, printer=printer_of("KYMOCW"))
    assert found.inks == ("K", "Y", "M", "O", "C", "W")
    assert np.array_equal(found.planes[[4, 2, 1, 0]], inks)
    assert not found.planes[3].any()
    assert np.array_equal(found.planes[5], white)
    assert white[coverage > 0].max() == 204
    assert np.array_equal(found.coverage, coverage)
    assert (found.width_mm, found.height_mm) == (100, 50)


def test_a_second_white_is_a_plane_of_its_own(coarse: Build) -> None:
    """After the first, which it adds to; where a named colour lies, both whites are full."""
    underbase = {"density": 80, "highlight": 60}
    rule = Rule(title="test", underbase=underbase)
    table = coarse("#000000", second_white=True, underbase=underbase)
    pixels = opaque(np.random.default_rng(9).integers(0, 256, (400, 3), np.uint8))
    exact = ExactInks(("C", "K"), pixels[0, :1, :3].copy(), np.array([[0.2, 0.4]]))
    printer = printer_of("CMYKW", second_white=True)
    found = separate(artwork_of(pixels), SIZE, table=table, rule=rule, printer=printer, exact=exact)
    assert found.inks == ("C", "M", "Y", "K", "W", "W2")
    white = table.apply(pixels)[2][0, 1:]
    assert np.array_equal(found.planes[4:, 0, 1:], [np.minimum(white, 204), np.maximum(white, 204) - 204])
    assert found.planes[5].max() > 0
    assert found.planes[:, 0, 0].tolist() == [51, 0, 0, 102, 204, 153]


def test_transparent_is_nothing(coarse: Build) -> None:
    """No coverage where the artwork is transparent; ink goes on one pixel under its edge, and no further."""
    pixels = np.full((4, 4, 4), 200, np.uint8)
    pixels[:, :2, 3] = 0
    found = separate(artwork_of(pixels), SIZE, table=coarse("#ffffff"), rule=Rule(title="t"), printer=printer_of("CMYKW"))
    assert not found.planes[:-1, :, :1].any()
    assert np.array_equal(found.planes[:, :, 1], found.planes[:, :, 2])
    assert (found.planes[-1, :, 2:] == 255).all()


def test_memory_is_that_of_the_planes(coarse: Build) -> None:
    """Separating takes no more memory than its result."""
    table = coarse("#ffffff")
    artwork = artwork_of(np.zeros((500, 600, 4), np.uint8))
    printer = printer_of("CMYKW")
    separate(artwork, SIZE, table=table, rule=Rule(title="t"), printer=printer)
    tracemalloc.start()
    separate(artwork, SIZE, table=table, rule=Rule(title="t"), printer=printer)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 500 * 600 * 6 + 100_000


@pytest.mark.parametrize(
    ("left", "right", "percent"),
    [
        ((0, 255, 0, 255), (128, 128, 128, 255), 50),
        ((0, 255, 0, 51), (128, 128, 128, 204), 20),
        ((0, 255, 0, 0), (230, 220, 200, 255), 0),
        ((0, 0, 0, 0), (0, 0, 0, 0), 0),
    ],
)
def test_out_of_gamut_share(coarse: Build, left: tuple[int, ...], right: tuple[int, ...], percent: float) -> None:
    """Screen green cannot be printed, grays and sand can; alpha weighs, and nothing at all is no fault."""
    pixels = np.array([[left, right]], np.uint8)
    assert out_of_gamut_percent(artwork_of(pixels), coarse("#ffffff")) == pytest.approx(percent)


def test_out_of_gamut_finding() -> None:
    """The worst limit that is passed decides; up to the limit, or without limits, nothing is said."""
    limits = Limits(warn=10, hold=50)
    assert check(10.0, limits=limits) == ()
    assert check(99.0, limits=None) == ()
    (warned,) = check(10.1, limits=limits)
    (held,) = check(60.0, limits=limits)
    assert (warned.severity, warned.limit, warned.value, warned.unit) == (Severity.WARN, 10, 10.1, "%")
    assert held.severity is Severity.HOLD
    assert held.advice
