"""The film of a design: made once, alike for every copy, and able to hold powder everywhere."""

from pathlib import Path

import numpy as np
import pytest
import tifffile
from numpy.typing import NDArray
from scipy import ndimage
from skimage import data

from filmhand import units
from filmhand.colour.nominal import nominal_model
from filmhand.gang import film as filming
from filmhand.gang.compose import Piece, Target, compose
from filmhand.gang.film import Film, film_of, read_words
from filmhand.gang.oriented import oriented
from filmhand.gang.sheet import Placement, Sheet
from filmhand.gang.stored import open_stored
from filmhand.halftone.choke import disc
from filmhand.halftone.islands import dots_of
from filmhand.halftone.screening import Screening, screening_for
from filmhand.rules import OutputRules, Printer, Rule
from filmhand.separation.model import Separation

INKS = ("C", "M", "Y", "K", "W")
DPI = 720
SIZE = 900, 700
Mask = NDArray[np.bool_]


@pytest.fixture(scope="module")
def screening(tmp_path_factory: pytest.TempPathFactory) -> Screening:
    """The default screens: AM of 45 lines, islands of 0.25 mm, holes of 0.2 mm."""
    printer = Printer(name="p", film_width="60 mm", margin="0 mm", mirror=False)
    return screening_for(Rule(title="t"), printer=printer, cache=tmp_path_factory.mktemp("cache"))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A photograph's lightness as coverage (scikit-image's astronaut), with a hard-edged disc, a hole and a speck of its own."""
    gray = data.astronaut()[:350, :450].mean(axis=2)
    y, x = np.mgrid[:350, :450]
    coverage = np.clip(gray, 0, 255).astype(np.uint8)
    coverage[(y - 60) ** 2 + (x - 60) ** 2 < 50**2] = 255
    coverage[(y - 60) ** 2 + (x - 60) ** 2 < 12**2] = 0
    coverage[300:, :60] = 0
    coverage[320:322, 30:32] = 255
    planes = np.full((5, 350, 450), 255, np.uint8)
    where = tmp_path / "design"
    where.mkdir()
    Separation(INKS, planes, coverage, *(units.px_to_mm(side, DPI) for side in SIZE)).save(where)
    return where


def film(folder: Path, screening: Screening, *, continuous: bool = False) -> Film:
    """The film of the design, upright."""
    return film_of(oriented(open_stored(folder), 0, mirror=False), SIZE, screening, continuous=continuous)


def dots(made: Film) -> tuple[Mask, Mask]:
    """Islands, and where white may lie, as h×w masks."""
    both = []
    for array in (made.islands, made.white):
        words = read_words(array, 0, made.height)
        both.append(np.unpackbits(words.view(np.uint8), axis=1, bitorder="little")[:, : made.width].astype(np.bool_))
    return both[0], both[1]


@pytest.mark.parametrize("continuous", [False, True])
def test_bands_of_rows_join(folder: Path, screening: Screening, monkeypatch: pytest.MonkeyPatch, continuous: bool) -> None:
    """Screened 50 rows at a time, or all at once: the same film."""
    picture = oriented(open_stored(folder), 0, mirror=False)
    made = []
    for rows in (50, 4096):
        monkeypatch.setattr(filming, "_BAND", rows)
        made.append(filming._film(picture, SIZE, screening, continuous=continuous))
    assert np.array_equal(made[0][0], made[1][0])
    assert np.array_equal(made[0][1], made[1][1])


def test_it_is_made_once(folder: Path, screening: Screening, monkeypatch: pytest.MonkeyPatch) -> None:
    """A second time it is read from beside the separation."""
    first = dots(film(folder, screening))
    monkeypatch.setattr(filming, "_film", None)
    assert np.array_equal(first[0], dots(film(folder, screening))[0])


def test_powder_holds_everywhere(folder: Path, screening: Screening) -> None:
    """No island (4 neighbours; scipy.ndimage.label) has fewer dots than the least disc, no hole either; the tone stays."""
    islands, _ = dots(film(folder, screening))
    for mask, least_px in ((islands, screening.least_dot_px), (~islands, screening.least_hole_px)):
        labels, _ = ndimage.label(mask)
        sizes = np.bincount(labels.ravel())[1:]
        if mask is not islands:  # what is open to the edge is no hole
            open_ones = np.unique(np.concatenate([labels[0], labels[-1], labels[:, 0], labels[:, -1]]))
            sizes = np.delete(sizes, open_ones[open_ones > 0] - 1)
        assert sizes.min() >= _dots_in(least_px)
    coverage = np.load(folder / "coverage.npy")
    photograph = slice(200, 600), slice(400, 880)  # away from the hard edges
    asked = coverage[100:300, 200:440].mean() / 255
    assert islands[photograph].mean() == pytest.approx(asked, abs=0.01)


def test_white_is_choked_within_islands(folder: Path, screening: Screening) -> None:
    """White lies a dot inside every island (scipy's distance transform), and the choke inside hard edges."""
    islands, white = dots(film(folder, screening))
    depth = ndimage.distance_transform_edt(np.pad(islands, 1))[1:-1, 1:-1]
    assert depth[white].min() > screening.island_choke_px[0]
    disc_rows = depth[60:180, 60:180]  # about the hard-edged disc and its hole
    assert disc_rows[white[60:180, 60:180]].min() > screening.choke_px[0]


def test_on_dark_garments_the_tone_is_that_of_the_white(folder: Path, tmp_path: Path) -> None:
    """White comes to the coverage asked, within 1 %, though every island's rim has none; and no island is too small."""
    rule, printer = Rule(title="t", garment="#1b1b1d"), Printer(name="p", film_width="60 mm", margin="0 mm", mirror=False)
    made = screening_for(rule, printer=printer, cache=tmp_path)
    islands, white = dots(film(folder, made))
    photograph = slice(200, 600), slice(400, 880)  # away from the hard edges
    asked = np.load(folder / "coverage.npy")[100:300, 200:440].mean() / 255
    assert white[photograph].mean() == pytest.approx(asked, abs=0.01)
    assert islands[photograph].mean() > asked + 0.05
    labels, _ = ndimage.label(islands)
    assert np.bincount(labels.ravel())[1:].min() >= _dots_in(made.least_dot_px)


def test_every_copy_has_the_same_dots(folder: Path, screening: Screening, tmp_path: Path) -> None:
    """Two copies at places of no common measure: the same white, dot for dot, read with tifffile."""
    width, height = (units.px_to_mm(side, DPI) for side in SIZE)
    places = [(101, 53), (1019, 131)]
    placements = [
        Placement("0", copy, units.px_to_mm(left, DPI), units.px_to_mm(top, DPI), width, height, 0.0)
        for copy, (left, top) in enumerate(places, 1)
    ]
    printer = Printer(name="p", film_width="80 mm", margin="0 mm", mirror=False)
    target = Target(printer, OutputRules(), nominal_model(INKS[:-1]))
    out = tmp_path / "out"
    out.mkdir()
    compose(Sheet("s", 80.0, 32.0, tuple(placements)), {"0": Piece(folder, screening, "#1b1b1d")}, target=target, folder=out)
    white = tifffile.imread(out / "s_W.tif")
    one, other = (white[top : top + SIZE[1], left : left + SIZE[0]] for left, top in places)
    assert one.any()
    assert np.array_equal(one, other)


def _dots_in(across_px: tuple[float, float]) -> int:
    """Dots of the disc of a diameter."""
    return dots_of(disc((across_px[0] / 2, across_px[1] / 2)))
