"""Charts as delivered: what the TIFFs hold, read by tifffile, against what the patch lists and the marks say."""

import math
import shutil
import subprocess
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tifffile
from numpy.typing import NDArray
from scipy import ndimage

from filmhand import units
from filmhand.cli.chart_sheet import Press, write_sheet
from filmhand.colour.chart.charts import chart, usual_kinds
from filmhand.colour.chart.kinds import Kind
from filmhand.colour.chart.model import Block, Box, Chart, Wanted
from filmhand.colour.chart.pressing import CHOKES_MM, LPI, SIZES_MM, TONES
from filmhand.colour.chart.shelves import shelve
from filmhand.colour.nominal import nominal_model
from filmhand.rules import Printer, Rule

MARGIN, GAP = 10.0, 6.0
WANTED = Wanted(patches=60, patch_mm=8.0, block_mm=(160.0, 200.0))
PRINTERS: dict[str, dict[str, Any]] = {
    "one drop": {"film_width": "330 mm"},
    "not mirrored": {"film_width": "330 mm", "mirror": False, "resolution": [600, 600]},
    "three drops": {
        **{"film_width": "330 mm", "bits": 2, "resolution": [1200, 600], "drop_pl": {"default": (4.0, 7.0, 14.0)}},
        "inks": ["K", "C", "M", "Y", "R", "G", "B", "O", "W"],
    },
    "continuous": {"film_width": "330 mm", "bits": 8, "resolution": [360, 360], "inks": ["C", "M", "Y", "W"]},
}
VOLUMES = {1: np.array([0, 1.0]), 2: np.array([0, 4, 7, 14]) / 14, 8: np.arange(256) / 255}
Planes = dict[str, NDArray[np.uint8]]


@pytest.fixture(scope="module")
def cache(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the blue-noise tile is kept."""
    return tmp_path_factory.mktemp("cache")


class Printed:
    """A chart, printed: its planes, and where things lie on them."""

    def __init__(self, kind: Kind, settings: dict[str, Any], folder: Path, cache: Path) -> None:
        self.printer = Printer.model_validate({"name": "p", **settings})
        self.rule = Rule(title="t")
        self.chart: Chart = chart(kind, self._wanted(kind), printer=self.printer, underbase=self.rule.underbase)
        self.folder = folder
        model = nominal_model([str(ink) for ink in self.printer.colours])
        made = write_sheet(self.chart, Press(self.printer, self.rule, model, cache), folder=folder, scratch=folder / "scratch")
        self.planes: Planes = {
            ink: tifffile.imread(folder / name).astype(np.uint8) for ink, name in zip(made.inks, made.files, strict=True)
        }

    @staticmethod
    def _wanted(kind: Kind) -> Wanted:
        return Wanted(patches=130, patch_mm=8.0, block_mm=(160.0, 200.0)) if kind is Kind.SECTORS else WANTED

    def blocks(self) -> list[tuple[Block, tuple[int, int]]]:
        """Each block, and where its first dot (left, top) is on the sheet, as seen on the garment."""
        sizes = []
        for block in self.chart.blocks:
            steps = [1 if block.fine else max(1, round(dpi / 180)) for dpi in self.printer.resolution]
            pixels = [
                max(1, round(units.mm_to_px(mm, dpi) / step)) * step
                for mm, dpi, step in zip(block.size_mm, self.printer.resolution, steps, strict=True)
            ]
            sizes.append(tuple(units.px_to_mm(px, dpi) for px, dpi in zip(pixels, self.printer.resolution, strict=True)))
        places = shelve(sizes, room_mm=self.printer.printable_width, gap_mm=GAP).places
        return [
            (block, (self.dots(x + MARGIN, 0), self.dots(y + MARGIN, 1)))
            for block, (x, y) in zip(self.chart.blocks, places, strict=True)
        ]

    def dots(self, length_mm: float, axis: int) -> int:
        """Whole dots across (0) or along (1)."""
        return round(units.mm_to_px(length_mm, self.printer.resolution[axis]))

    def seen(self, ink: str) -> NDArray[np.uint8]:
        """A plane as it reads on the garment."""
        return self.planes[ink][:, ::-1] if self.printer.mirror else self.planes[ink]

    def inside(self, ink: str, corner: tuple[int, int], box: Box, *, edge: int = 12) -> NDArray[np.uint8]:
        """The samples of a box of a block, its edge left out: there tones run into one another over two drawn pixels."""
        left, top = corner[0] + self.dots(box.left, 0), corner[1] + self.dots(box.top, 1)
        wide, high = self.dots(box.width, 0), self.dots(box.height, 1)
        return self.seen(ink)[top + edge : top + high - edge, left + edge : left + wide - edge]


@pytest.fixture(scope="module", params=PRINTERS)
def settings(request: pytest.FixtureRequest) -> dict[str, Any]:
    """One printer after the other."""
    return PRINTERS[request.param]


@pytest.mark.parametrize("kind", [Kind.LINEARISATION, Kind.INK_LIMIT, Kind.SECTORS, Kind.STRIP, Kind.WHITE])
def test_patches_hold_the_ink_that_the_list_says(kind: Kind, settings: dict[str, Any], tmp_path: Path, cache: Path) -> None:
    """Every patch of every list: its mean volume is the listed amount within 0.5 %, inks not listed are absent, white is full."""
    printed = Printed(kind, settings, tmp_path, cache)
    volumes = VOLUMES[printed.printer.bits]
    at = {(block.name, name): (corner, box) for block, corner in printed.blocks() for name, box in block.patches.items()}
    checked = 0
    for listed in printed.chart.lists:
        own = [key for key in at if key[0].startswith(listed.name)]
        assert [name for _, name in own] == list(listed.names)
        for key, amounts in zip(own, listed.amounts, strict=True):
            corner, box = at[key]
            wanted = {str(ink): 1.0 if ink == "W" else 0.0 for ink in printed.printer.inks}
            wanted |= dict(zip(listed.inks, amounts.tolist(), strict=True))
            for ink, amount in wanted.items():
                laid = volumes[printed.inside(ink, corner, box)]
                assert abs(laid.mean() - amount) <= 0.005, (key, ink)
                checked += 1
    assert checked == len(printed.printer.inks) * sum(len(one.names) for one in printed.chart.lists)


@pytest.mark.outside
@pytest.mark.skipif(shutil.which("tiffinfo") is None, reason="needs tiffinfo (Debian libtiff-tools)")
@pytest.mark.parametrize("kind", Kind)
def test_tiffinfo_has_nothing_to_say(kind: Kind, tmp_path: Path, cache: Path) -> None:
    """libtiff reads the files of every kind of chart, every strip, without a warning, at the printer's resolution."""
    Printed(kind, PRINTERS["one drop"], tmp_path, cache)
    for file in tmp_path.glob("*.tif"):
        told = subprocess.run(["tiffinfo", "-D", file], capture_output=True, text=True, check=True)
        assert told.stderr == ""
        assert "Resolution: 720, 720 pixels/inch" in told.stdout


def test_white_is_pulled_in_under_the_edge(tmp_path: Path, cache: Path) -> None:
    """A chart's white ends the rule's 0.15 mm inside the block, on all sides."""
    printed = Printed(Kind.STRIP, PRINTERS["one drop"], tmp_path, cache)
    rows, columns = np.nonzero(printed.planes["W"])
    block, (left, top) = printed.blocks()[0]
    choke = math.floor(units.mm_to_px(0.15, 720))
    found = (printed.planes["W"].shape[1] - 1 - columns.max(), rows.min(), np.ptp(columns) + 1, np.ptp(rows) + 1)
    size = [printed.dots(mm, axis) for axis, mm in enumerate(block.size_mm)]
    wanted = (left + choke, top + choke, size[0] - 2 * choke, size[1] - 2 * choke)
    assert np.abs(np.subtract(found, wanted)).max() <= 2  # blocks are whole drawn pixels of four dots


@pytest.mark.parametrize("kind", [Kind.NOZZLES, Kind.REGISTRATION, Kind.LEAST])
def test_film_is_mirrored(kind: Kind, tmp_path: Path, cache: Path) -> None:
    """Printed face down, a chart's dots are those of the same chart not mirrored, turned left to right; letters read rightly."""
    folders = tmp_path / "a", tmp_path / "b"
    for folder in folders:
        folder.mkdir()
    down = Printed(kind, {"film_width": "330 mm"}, folders[0], cache)
    up = Printed(kind, {"film_width": "330 mm", "mirror": False}, folders[1], cache)
    for (block, one), (_, other) in zip(down.blocks(), up.blocks(), strict=True):
        whole = Box(0, 0, *block.size_mm)
        for ink in down.planes:
            shifts = [down.inside(ink, (one[0] + by, one[1]), whole) for by in (-1, 0, 1)]  # the film is no whole number of dots
            assert any(np.array_equal(shifted, up.inside(ink, other, whole)) for shifted in shifts)


def test_every_nozzle_fires_alone(tmp_path: Path, cache: Path) -> None:
    """In the delivered planes each row of an ink's stairs has one dash, one dot high, of a sixteenth of the width."""
    printed = Printed(Kind.NOZZLES, PRINTERS["not mirrored"], tmp_path, cache)
    for ink, (_, (left, top)) in zip(printed.planes, printed.blocks(), strict=True):
        width, high = printed.dots(40, 0), printed.dots(60, 1)
        stairs = printed.planes[ink][top + printed.dots(6, 1) :, left : left + width][:high]
        assert abs(stairs.sum(axis=1) - width / 16).max() <= 1
        assert (np.abs(np.diff(stairs.astype(int), axis=1)).sum(axis=1) <= 2).all()
        assert not (stairs[:-1] & stairs[1:]).any()


def test_verniers_meet_in_the_middle(tmp_path: Path, cache: Path) -> None:
    """Lines of each ink and of black: the middle ones in line, each further pair one reading further apart, all equally thick."""
    printed = Printed(Kind.REGISTRATION, PRINTERS["one drop"], tmp_path, cache)
    for block, (left, top) in printed.blocks()[:4]:
        ink = block.name.split()[-1]
        rows = {"K": top + printed.dots(12 + 6 + 2, 1), ink: top + printed.dots(12 + 6 + 6, 1)}
        lines = {}
        for one, row in rows.items():
            samples = printed.seen(one)[row, left : left + printed.dots(31, 0)].astype(int)
            starts, ends = (np.flatnonzero(np.diff(samples) == step) for step in (1, -1))
            assert len(starts) == 21
            assert len(set(ends - starts)) == 1
            lines[one] = starts
        assert np.array_equal(lines[ink] - lines["K"], np.arange(-10, 11))


def test_least_dots_are_as_large_as_said(tmp_path: Path, cache: Path) -> None:
    """Film and holes: three discs and two lines of each size, within half a dot all around."""
    printed = Printed(Kind.LEAST, PRINTERS["one drop"], tmp_path, cache)
    for (_, corner), bare in zip(printed.blocks(), (False, True), strict=True):
        figures = printed.inside("M", corner, Box(2, 11.5, 64, 30), edge=0) > 0
        labelled, _ = ndimage.label(~figures if bare else figures)
        boxes = [(part[1].stop - part[1].start, part[0].stop - part[0].start) for part in ndimage.find_objects(labelled)]
        boxes = [box for box in boxes if max(box) < 1000]
        assert len(boxes) == 5 * len(SIZES_MM)
        for size in SIZES_MM:
            dots = units.mm_to_px(size, 720)
            round_ones = [box for box in boxes if abs(box[0] - dots) <= 1 and abs(box[1] - dots) <= 1]
            assert len(round_ones) >= 3
            assert sum(abs(box[0] - dots) <= 1 and box[1] == printed.dots(10, 1) for box in boxes) >= 1


def test_the_choke_ladder_is_choked(tmp_path: Path, cache: Path) -> None:
    """Step by step: white is exactly what lies further than the choke from where film ends (distances by scipy)."""
    printed = Printed(Kind.CHOKE, PRINTERS["one drop"], tmp_path, cache)
    for (_, corner), choke in zip(printed.blocks(), CHOKES_MM, strict=True):
        box = Box(23, 7, 22, 18.6)
        colour = printed.inside("M", corner, box, edge=0) > 0
        kept = ndimage.distance_transform_edt(colour) > units.mm_to_px(choke, 720)
        assert np.array_equal(printed.inside("W", corner, box, edge=0) > 0, kept)


def test_the_screen_ladder_has_its_tones_and_rulings(tmp_path: Path, cache: Path) -> None:
    """Each tone covers its share of the garment within 1 %, and each ruling has as many dots an inch as it says, within 5 %."""
    printed = Printed(Kind.SCREENS, PRINTERS["one drop"], tmp_path, cache)
    for (_, corner), lpi in zip(printed.blocks(), LPI, strict=True):
        for place, tone in enumerate(TONES):
            box = Box(18 + 12.0 * place, 5, 12, 12)
            film = printed.inside("M", corner, box, edge=24) > 0
            assert abs(film.mean() - tone / 100) <= 0.01
            if tone == 20:
                _, islands = ndimage.label(film)
                area = film.size / 720**2
                around = sum(film.shape) / 720
                assert abs(islands - lpi**2 * area) <= 0.05 * lpi**2 * area + lpi * around


def test_colour_charts_follow_the_inks() -> None:
    """Four inks or fewer: the grid of ISO 12642's kind; more: the sector chart. Every other kind for every printer."""
    for inks, kind, other in (("CMYKW", Kind.GRID, Kind.SECTORS), ("CMYKROW", Kind.SECTORS, Kind.GRID)):
        kinds = usual_kinds(Printer.model_validate({"name": "p", "film_width": "600 mm", "inks": list(inks)}))
        assert kind in kinds
        assert other not in kinds
        assert len(kinds) == len(Kind) - 1


@pytest.mark.parametrize("kind", [Kind.GRID, Kind.SECTORS])
def test_patches_are_shuffled_by_a_seed(kind: Kind) -> None:
    """The same seed gives the same order, another another, 0 the order of making; the patches are the same."""
    printer = Printer.model_validate({"name": "p", "film_width": "600 mm"})

    def amounts(seed: int) -> NDArray[np.float64]:
        wanted = Wanted(patches=200, seed=seed)
        return chart(kind, wanted, printer=printer, underbase=Rule(title="t").underbase).lists[0].amounts

    plain, one, again, two = amounts(0), amounts(1), amounts(1), amounts(2)
    assert np.array_equal(one, again)
    assert not np.array_equal(one, two)
    assert not np.array_equal(one, plain)
    assert np.array_equal(*(np.sort(rows.view("f8,f8,f8,f8"), axis=0) for rows in (plain, two)))
    assert not plain[0].any()
