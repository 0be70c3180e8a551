"""What a rule's screens do together: inks fall independently, drops keep volumes, lengths become dots."""

import itertools
from pathlib import Path

import numpy as np
import pytest

from filmhand.errors import SettingsError
from filmhand.halftone.diffusion import Diffusion
from filmhand.halftone.screening import Screening, drop_sizes, screening_for
from filmhand.halftone.thresholds import Tile
from filmhand.rules import DiffusionKernel, Printer, Rule

INKS = ("C", "M", "Y", "K", "R", "G", "B", "O", "W")


@pytest.fixture(scope="module")
def cache(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the blue-noise tile is kept."""
    return tmp_path_factory.mktemp("cache")


def screening(cache: Path, *, inks: str = "blue-noise", least: bool = True, **printer: object) -> Screening:
    """The screening of a rule with blue noise for coverage and such screens for inks; without a least dot and hole if said."""
    halftone: dict[str, object] = {"inks": {"screen": inks}, "coverage": {"screen": "blue-noise"}}
    if not least:
        halftone |= {"least_dot": "0 mm", "least_hole": "0 mm"}
    rule = Rule.model_validate({"title": "t", "halftone": halftone})
    machine = Printer.model_validate({"name": "p", "film_width": "600 mm", "inks": INKS, **printer})
    return screening_for(rule, printer=machine, cache=cache)


def tiles(made: Screening, plane: str) -> tuple[Tile, ...]:
    """A plane's tiles, one a drop size."""
    screens = made.inks[plane]
    assert isinstance(screens, tuple)
    return screens


def test_blue_noise_inks_fall_independently(cache: Path) -> None:
    """Demichel's equations want two inks' dots to coincide on a·b of the area: all pairs of nine inks, second white, coverage of
    single dots, ± 0.01."""
    made = screening(cache, highlight_white=True, least=False)
    planes = [made.coverage, *(tiles(made, ink)[0] for ink in (*INKS, "W2"))]
    for one, other in itertools.combinations(planes, 2):
        for a, b in itertools.product((26, 64, 128, 192), repeat=2):
            together = ((a > one) & (b > other)).mean()
            assert abs(together - a * b / 255**2) <= 0.01


def test_am_inks_fall_independently(cache: Path) -> None:
    """The same of the AM screens of C, M, Y, K and both whites, at their own angles, over 80 mm square."""
    made = screening(cache, inks="am", highlight_white=True)
    rows, columns = np.mgrid[0:2268, 0:2268]
    wide = {ink: tiles(made, ink)[0] for ink in ("C", "M", "Y", "K", "W", "W2")}
    laid = {ink: tile[rows % tile.shape[0], columns % tile.shape[1]] for ink, tile in wide.items()}
    for one, other in itertools.combinations(laid.values(), 2):
        for a, b in ((64, 64), (128, 128), (64, 192)):
            assert abs(((a > one) & (b > other)).mean() - (a > one).mean() * (b > other).mean()) <= 0.01


def test_drops_keep_the_volume(cache: Path) -> None:
    """Three drop sizes: the mean volume of a flat tone is the tone, in parts of the largest drop, for every tone."""
    printer = {"bits": 2, "drop_pl": {"default": (4.0, 7.0, 14.0), "W": (6.0, 13.0, 22.0)}}
    made = screening(cache, **printer)
    for ink, volumes in (("C", (4, 7, 14)), ("W", (6, 13, 22))):
        growth = np.diff(volumes, prepend=0) / volumes[-1]
        means = [sum(g * (tone > tile).mean() for g, tile in zip(growth, tiles(made, ink), strict=True)) for tone in range(256)]
        assert np.abs(np.array(means) - np.arange(256) / 255).max() < 1e-4


def test_drops_are_nested(cache: Path) -> None:
    """A large drop lies only where a smaller one would: at each place the thresholds grow with the drop."""
    first, second, third = screening(cache, bits=2, drop_pl={"default": (4.0, 7.0, 14.0)}).inks["K"]  # type: ignore[misc]  # tiles
    assert (first <= second).all()
    assert (second <= third).all()


@pytest.mark.parametrize("volumes", [7.0, (7.0, 4.0, 14.0)])
def test_drop_volumes_must_be_said(volumes: object) -> None:
    """A printer with three drop sizes whose volumes are not three growing numbers is the operator's to mend."""
    printer = Printer.model_validate({"name": "p", "film_width": "600 mm", "bits": 2, "drop_pl": {"default": volumes}})
    with pytest.raises(SettingsError, match="three drop sizes"):
        drop_sizes(printer, "C")


def test_lengths_become_dots(cache: Path) -> None:
    """0.15 mm at 720 dpi is 4.25 dots, at 1440 twice as many."""
    made = screening(cache, resolution=(720, 1440))
    assert made.choke_px == pytest.approx((4.252, 8.504), abs=1e-3)


def test_a_small_choke_takes_a_dot(cache: Path) -> None:
    """0.03 mm is 0.85 dots at 720 dpi: no neighbour is so near, so it is taken as one dot; 0.01 mm is none."""
    assert screening(cache).island_choke_px == (1.0, 1.0)
    rule = Rule.model_validate({"title": "t", "underbase": {"island_choke": "0.01 mm"}})
    printer = Printer.model_validate({"name": "p", "film_width": "600 mm"})
    assert max(screening_for(rule, printer=printer, cache=cache).island_choke_px) < 0.5


def test_least_lengths_become_dots(cache: Path) -> None:
    """The least dot of 0.25 mm and hole of 0.2 mm at 720 × 1440: dots across and down, 25.4 mm an inch."""
    made = screening(cache, resolution=(720, 1440))
    assert made.least_dot_px == pytest.approx((7.087, 14.173), abs=1e-3)
    assert made.least_hole_px == pytest.approx((5.669, 11.339), abs=1e-3)


def test_curves_are_built_in(cache: Path) -> None:
    """A plane with a curve lays its amounts, one without its tones; a controller that screens is sent the same, to the nearest
    255th; with three drops the volumes keep to the curve."""
    curve = np.linspace(0, 1, 256) ** 1.6
    printer = {"bits": 2, "drop_pl": {"default": (4.0, 7.0, 14.0)}, "highlight_white": True}
    rule = Rule.model_validate({"title": "t"})
    machine = Printer.model_validate({"name": "p", "film_width": "600 mm", "inks": INKS, **printer})
    made = screening_for(rule, printer=machine, cache=cache, curves={"C": curve, "W2": curve})
    growth = np.diff((4, 7, 14), prepend=0) / 14
    for plane, amounts in (("C", curve), ("W2", curve), ("M", np.arange(256) / 255), ("W", np.arange(256) / 255)):
        laid = zip(growth, tiles(made, plane), strict=True)
        means = sum(g * np.cumsum(np.bincount(tile.ravel(), minlength=255)) / tile.size for g, tile in laid)
        assert np.abs(np.append(0, means) - amounts).max() < 1e-4
        assert np.array_equal(made.tones[plane], np.floor(255 * amounts + 0.5))
    assert set(made.inks) == set(made.tones) == {*INKS, "W2"}


def test_an_inks_own_angle_is_taken(cache: Path) -> None:
    """`angles = { K = 45 }` lays black at 45°, where its dots' strongest wave is found; the others stay at their turns."""
    halftone = {"inks": {"screen": "am", "lpi": 60, "angle": 22.5, "angles": {"K": 45}}}
    rule = Rule.model_validate({"title": "t", "halftone": halftone})
    printer = Printer.model_validate({"name": "p", "film_width": "600 mm"})
    made = screening_for(rule, printer=printer, cache=cache)
    for plane, angle in (("K", 45), ("M", 52.5), ("C", -7.5), ("W", 7.5)):
        (tile,) = tiles(made, plane)
        power = np.abs(np.fft.fft2((tile < 100) - (tile < 100).mean()))
        y, x = np.unravel_index(np.argmax(power), power.shape)
        down, across = np.fft.fftfreq(tile.shape[0])[y], np.fft.fftfreq(tile.shape[1])[x]
        assert (np.degrees(np.arctan2(down, across)) - angle + 45) % 90 - 45 == pytest.approx(0, abs=0.2)


def test_error_diffusion_is_passed_on(cache: Path) -> None:
    """Diffused inks carry the rule's kernel and way, their curve and drops, and a number each of its own."""
    rule = Rule.model_validate({"title": "t", "halftone": {"inks": {"screen": "error-diffusion", "kernel": "stucki"}}})
    machine = Printer.model_validate({"name": "p", "film_width": "600 mm", "highlight_white": True})
    curve = np.linspace(0, 1, 256) ** 2
    made = screening_for(rule, printer=machine, cache=cache, curves={"K": curve})
    for diffused in made.inks.values():
        assert isinstance(diffused, Diffusion)
        assert diffused.kernel is DiffusionKernel.STUCKI
        assert diffused.serpentine
        assert diffused.sizes == (1.0,)
    seeds = [diffused.seed for diffused in made.inks.values() if isinstance(diffused, Diffusion)]
    assert len(set(seeds)) == len(made.inks) == 6
    black = made.inks["K"]
    assert isinstance(black, Diffusion)
    assert np.array_equal(black.amounts, curve)
