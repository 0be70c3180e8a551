"""What a rule's screens do together: inks fall independently, drops keep volumes, lengths become dots."""

import itertools
from pathlib import Path

import numpy as np
import pytest

from filmhand.errors import SettingsError
from filmhand.halftone.screening import Screening, drop_sizes, screening_for
from filmhand.rules import Printer, Rule

INKS = ("C", "M", "Y", "K", "R", "G", "B", "O", "W")


@pytest.fixture(scope="module")
def cache(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the blue-noise tile is kept."""
    return tmp_path_factory.mktemp("cache")


def screening(cache: Path, *, inks: str = "blue-noise", coverage: str = "blue-noise", **printer: object) -> Screening:
    """The screening of a rule with these kinds of screens."""
    rule = Rule.model_validate({"title": "t", "halftone": {"inks": {"screen": inks}, "coverage": {"screen": coverage}}})
    machine = Printer.model_validate({"name": "p", "film_width": "600 mm", "inks": INKS, **printer})
    return screening_for(rule, printer=machine, cache=cache)


def test_blue_noise_inks_fall_independently(cache: Path) -> None:
    """Demichel's equations want two inks' dots to coincide on a·b of the area: all pairs of nine inks and coverage, ± 0.01."""
    made = screening(cache)
    tiles = [made.coverage, *(made.inks[ink][0] for ink in INKS)]
    for one, other in itertools.combinations(tiles, 2):
        for a, b in itertools.product((26, 64, 128, 192), repeat=2):
            together = ((a > one) & (b > other)).mean()
            assert abs(together - a * b / 255**2) <= 0.01


def test_am_inks_fall_independently(cache: Path) -> None:
    """The same of the AM screens of C, M, Y, K and white, at their own angles, over 40 mm square."""
    made = screening(cache, inks="am")
    rows, columns = np.mgrid[0:1134, 0:1134]
    wide = {ink: made.inks[ink][0] for ink in "CMYKW"}
    laid = {ink: tile[rows % tile.shape[0], columns % tile.shape[1]] for ink, tile in wide.items()}
    for one, other in itertools.combinations(laid.values(), 2):
        for a, b in ((64, 64), (128, 128), (64, 192)):
            assert abs(((a > one) & (b > other)).mean() - a * b / 255**2) <= 0.01


def test_drops_keep_the_volume(cache: Path) -> None:
    """Three drop sizes: the mean volume of a flat tone is the tone, in parts of the largest drop, for every tone."""
    printer = {"bits": 2, "drop_pl": {"default": (4.0, 7.0, 14.0), "W": (6.0, 13.0, 22.0)}}
    made = screening(cache, **printer)
    for ink, volumes in (("C", (4, 7, 14)), ("W", (6, 13, 22))):
        growth = np.diff(volumes, prepend=0) / volumes[-1]
        means = [sum(g * (tone > tile).mean() for g, tile in zip(growth, made.inks[ink], strict=True)) for tone in range(256)]
        assert np.abs(np.array(means) - np.arange(256) / 255).max() < 1e-4


def test_drops_are_nested(cache: Path) -> None:
    """A large drop lies only where a smaller one would: at each place the thresholds grow with the drop."""
    first, second, third = screening(cache, bits=2, drop_pl={"default": (4.0, 7.0, 14.0)}).inks["K"]
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
