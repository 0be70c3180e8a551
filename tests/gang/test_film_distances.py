"""On the composed bits copies keep their distance and margins stay bare: whatever the art, however it is turned and screened.

Nights are laid out as the service does; and, closer than any nesting comes, two copies are pressed against each other and into
the film's corner until the check on cells objects.
"""

import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

import cv2
import numpy as np
import pytest
import tifffile
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from layouts import blob
from numpy.typing import NDArray
from scipy import ndimage

from filmhand import units
from filmhand.colour.nominal import nominal_model
from filmhand.gang.clearance import Area, clearance_faults
from filmhand.gang.compose import Piece, Target, compose
from filmhand.gang.outline import Outline
from filmhand.gang.sheet import Placement, Sheet
from filmhand.gang.turn import turned_box
from filmhand.halftone.screening import screening_for
from filmhand.rules import OutputRules, Printer, Rule
from filmhand.separation.crop import cropped
from filmhand.separation.model import Separation
from filmhand.work import prepare
from filmhand.work.lay_out import LayOutTask, lay_out, shapes_of

INKS = ("C", "M", "Y", "K", "W")
FILM_MM, MARGIN_MM = 120.0, 8.0

Mask = NDArray[np.bool_]
Tones = NDArray[np.uint8]


@dataclass(frozen=True)
class Night:
    """What is printed, and how. `tone`: coverage of the art where it is not a ramp (0)."""

    kinds: tuple[str, ...]
    px_per_mm: int
    seed: int
    tone: int
    garment: str
    gap_mm: float
    rotate: tuple[float, ...]
    mirror: bool
    resolution: tuple[int, int]

    @property
    def printer(self) -> Printer:
        """Film that takes a few copies abreast."""
        return Printer.model_validate(
            {
                "name": "p",
                "film_width": f"{FILM_MM} mm",
                "margin": f"{MARGIN_MM} mm",
                "resolution": self.resolution,
                "mirror": self.mirror,
            }
        )

    @property
    def rule(self) -> Rule:
        """Least dots and holes as they are by default."""
        gang = {"gap": f"{self.gap_mm} mm", "rotate": self.rotate, "seconds": 1, "max_length": "400 mm"}
        return Rule.model_validate({"title": "t", "garment": self.garment, "gang": gang})


NIGHTS = st.builds(
    Night,
    kinds=st.lists(st.sampled_from(["blob", "ring", "hairlines", "dots"]), min_size=2, max_size=3).map(tuple),
    px_per_mm=st.sampled_from([6, 12, 24]),
    seed=st.integers(0, 999),
    tone=st.sampled_from([255, 140, 0]),
    garment=st.sampled_from(["#1b1b1d", "#ffffff"]),
    gap_mm=st.sampled_from([1.0, 2.5, 6.0]),
    rotate=st.sampled_from([(0.0, 90.0, 180.0, 270.0), (90.0,), (30.0, 120.0, 210.0, 300.0), (17.0, 163.0), (0.0, 45.0)]),
    mirror=st.booleans(),
    resolution=st.sampled_from([(300, 300), (360, 600), (600, 360), (600, 600)]),
)


def drawn(kind: str, px_per_mm: int, rng: np.random.Generator) -> Tones:
    """A picture's coverage, h×w uint8, 15 to 35 mm long, its edges smooth or in steps. Lines and dots are a few pixels wide."""
    side = int(rng.integers(15, 35)) * px_per_mm
    plane = np.zeros((side, side), np.uint8)
    edge = int(rng.choice([cv2.LINE_AA, cv2.LINE_8]))
    if kind == "blob":
        half = cv2.INTER_AREA if edge == cv2.LINE_AA else cv2.INTER_NEAREST
        return cv2.resize(blob(int(rng.integers(1000)), side_px=2 * side), None, fx=0.5, fy=0.5, interpolation=half)
    if kind == "ring":
        thick = int(rng.integers(1, side // 6))
        cv2.circle(plane, (side // 2, side // 2), side // 2 - thick // 2 - 2, 255, thick, edge)
    elif kind == "hairlines":
        for first, second in rng.integers(0, side, (6, 2, 2)):
            cv2.line(plane, tuple(map(int, first)), tuple(map(int, second)), 255, int(rng.integers(1, 4)), edge)
    else:
        for centre in rng.integers(0, side, (25, 2)):
            cv2.circle(plane, tuple(map(int, centre)), int(rng.integers(0, 4)), 255, -1, edge)
    return plane


def separation(kind: str, night: Night, rng: np.random.Generator) -> Separation:
    """One design, full of every ink, cut to its film as when it is prepared."""
    coverage = drawn(kind, night.px_per_mm, rng)
    tones = np.linspace(20, 255, coverage.shape[1]) if night.tone == 0 else np.full(coverage.shape[1], night.tone)
    coverage = np.rint(coverage * (tones / 255)).astype(np.uint8)
    height, width = coverage.shape
    planes = np.full((len(INKS), height, width), 255, np.uint8)
    made = cropped(Separation(INKS, planes, coverage, width / night.px_per_mm, height / night.px_per_mm))
    assert made is not None
    return made


class Press:
    """Prepares, lays out and composes a night as the service does, in one folder."""

    def __init__(self, night: Night, folder: Path, cache: Path) -> None:
        self.night, self.folder = night, folder
        rng = np.random.default_rng(night.seed)
        self.designs = {str(n): folder / str(n) for n in range(len(night.kinds))}
        for (_, where), kind in zip(self.designs.items(), night.kinds, strict=True):
            where.mkdir()
            prepare._keep(separation(kind, night, rng), where, rule=night.rule)
        screening = screening_for(night.rule, printer=night.printer, cache=cache)
        self.pieces = {job: Piece(where, screening, night.garment) for job, where in self.designs.items()}

    def task(self) -> LayOutTask:
        """Three copies of each design wait."""
        waiting = tuple((job, (1, 2, 3), folder) for job, folder in self.designs.items())
        return LayOutTask(waiting, self.night.printer, self.night.rule.gang, seed=self.night.seed, cache=self.folder)

    def nested(self) -> Sheet:
        """As the service lays them out."""
        made = lay_out(self.task())
        return Sheet("all", FILM_MM, made.length_mm, made.placements)

    def pressed(self) -> Sheet:
        """A copy of each of two designs, as near to the film's corner and to each other as the check on cells lets them."""
        rng = np.random.default_rng(self.night.seed)
        one, other = (self._in_corner(job, float(rng.choice(self.night.rotate))) for job in ("0", "1"))
        way = rng.uniform(0, np.pi / 2)

        def away(mm: float) -> Placement:
            return replace(other, x_mm=other.x_mm + mm * np.cos(way), y_mm=other.y_mm + mm * np.sin(way))

        other = away(least(lambda mm: self._is_well(one, away(mm)), 0, 100))
        length = max(each.y_mm + each.height_mm for each in (one, other)) + MARGIN_MM
        return Sheet("two", FILM_MM, length, (one, other))

    def _in_corner(self, job: str, rotation: float) -> Placement:
        outline = self._outlines[job]
        _, _, width, height = turned_box(outline.width_mm, outline.height_mm, rotation)
        one = Placement(job, 1, 50.0, 50.0, width, height, rotation)
        one = replace(one, x_mm=least(lambda x: self._is_well(replace(one, x_mm=x)), -50, 50))
        return replace(one, y_mm=least(lambda y: self._is_well(replace(one, y_mm=y)), -50, 50))

    def _is_well(self, *some: Placement) -> bool:
        area = Area(MARGIN_MM, MARGIN_MM, FILM_MM, 1000.0)
        return not clearance_faults(some, [self._outlines[each.job] for each in some], gap_mm=self.night.gap_mm, area=area)

    @cached_property
    def _outlines(self) -> dict[str, Outline]:
        return {job: shape.outline for (job, _), shape in shapes_of(self.task()).items()}

    def dots(self, sheet: Sheet, placements: Sequence[Placement]) -> Mask:
        """Where any ink is printed for some of a sheet's copies, as tifffile reads the planes."""
        with tempfile.TemporaryDirectory(dir=self.folder) as out:
            target = Target(self.night.printer, OutputRules(compression="none"), nominal_model(INKS[:-1]))
            some = Sheet("some", sheet.film_width_mm, sheet.length_mm, tuple(placements))
            composed = compose(some, self.pieces, target=target, folder=Path(out), threads=2)
            planes = [tifffile.imread(Path(out) / name) > 0 for name in composed.files]
        return np.logical_or.reduce(planes)


def least(is_well: Callable[[float], bool], low: float, high: float) -> float:
    """About the least number between the two at which all is well, by halving; all is well at `high`."""
    while high - low > 1e-3:
        middle = (low + high) / 2
        low, high = (low, middle) if is_well(middle) else (middle, high)
    return high


def nearest_mm(copies: Sequence[Mask], pitch: tuple[float, float], reach_mm: float) -> float:
    """Least distance between the dots' edges of two copies, no more than about `reach_mm`: scipy's exact distance transform.

    Dots are squares: those of the others grown by one all round, the distance between middles is that between edges.
    """
    whole = np.sum(copies, axis=0, dtype=np.int32)
    assert whole.max() == 1, "two copies print on one dot"
    least = reach_mm
    down, across = (int(reach_mm / each) + 2 for each in pitch)
    for copy in copies:
        rows, columns = np.flatnonzero(copy.any(axis=1)), np.flatnonzero(copy.any(axis=0))
        box = np.s_[max(0, rows[0] - down) : rows[-1] + down, max(0, columns[0] - across) : columns[-1] + across]
        own = copy[box]
        others = ndimage.binary_dilation((whole[box] > 0) & ~own, np.ones((3, 3), bool))
        if others.any():
            least = min(least, float(ndimage.distance_transform_edt(~others, sampling=pitch)[own].min()))
    return least


def bare_mm(dots: Mask, pitch: tuple[float, float]) -> float:
    """Width of the narrowest of the four margins that have no dot, measured to the dots' middles."""
    rows, columns = np.flatnonzero(dots.any(axis=1)), np.flatnonzero(dots.any(axis=0))
    height, width = dots.shape
    ends = ((rows[0] + 0.5) * pitch[0], (height - rows[-1] - 0.5) * pitch[0])
    sides = ((columns[0] + 0.5) * pitch[1], (width - columns[-1] - 0.5) * pitch[1])
    return float(min(*ends, *sides))


@pytest.fixture(scope="module")
def cache(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where the blue-noise tile is kept."""
    return tmp_path_factory.mktemp("cache")


def measured(night: Night, layout: Callable[[Press], Sheet], cache: Path) -> tuple[float, float]:
    """Least distance of two copies and narrowest bare margin on the composed bits, mm."""
    pitch = units.px_to_mm(1, night.resolution[1]), units.px_to_mm(1, night.resolution[0])
    with tempfile.TemporaryDirectory() as folder:
        press = Press(night, Path(folder), cache)
        sheet = layout(press)
        assert len(sheet.placements) > 1
        dots = press.dots(sheet, sheet.placements)
        copies = [press.dots(sheet, [one]) for one in sheet.placements]
    assert all(copy.any() for copy in copies)
    assert np.array_equal(np.logical_or.reduce(copies), dots)
    return nearest_mm(copies, pitch, night.gap_mm + 1), bare_mm(dots, pitch)


def check(night: Night, layout: Callable[[Press], Sheet], cache: Path) -> None:
    """What both tests ask."""
    distance, margin = measured(night, layout, cache)
    dot = max(units.px_to_mm(1, dpi) for dpi in night.resolution)
    assert distance >= night.gap_mm - dot
    assert margin >= MARGIN_MM - dot / 2  # copies begin on whole dots, the nearest to their place


QUICK = settings(deadline=None, phases=[Phase.explicit, Phase.reuse, Phase.generate], suppress_health_check=list(HealthCheck))


@settings(QUICK, max_examples=4)
@given(night=NIGHTS)
def test_nested_copies_keep_their_distance_on_the_film(night: Night, cache: Path) -> None:
    """Copies are never nearer than the gap less one device dot, and no dot lies in the margins, on the planes as delivered."""
    check(night, Press.nested, cache)


@settings(QUICK, max_examples=20)
@given(night=NIGHTS)
def test_copies_pressed_together_keep_their_distance_on_the_film(night: Night, cache: Path) -> None:
    """The same for two copies as near to each other and to two margins as the check on cells allows."""
    check(night, Press.pressed, cache)


def test_least_dots_of_faint_art_keep_the_distance(cache: Path) -> None:
    """The same where dots grow at the edge of faint art, and a slant turn smears it by a source pixel."""
    night = Night(("blob", "dots"), 12, 852, 60, "#1b1b1d", 1.0, (30.0, 120.0, 210.0, 300.0), mirror=True, resolution=(600, 600))
    check(night, Press.pressed, cache)


def test_empty_corners_of_a_slant_picture_may_lie_beyond_the_film(cache: Path) -> None:
    """The same for art in the film's corner, the box of which reaches past the film."""
    night = Night(("dots", "hairlines"), 12, 485, 255, "#1b1b1d", 2.5, (17.0, 163.0), mirror=True, resolution=(360, 600))
    check(night, Press.pressed, cache)
