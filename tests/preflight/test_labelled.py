"""The labelled set itself: how much of what is in it, that its labels are true, and a few of it looked at."""

from collections import Counter
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import shapely
from PIL import Image, ImageCms
from skimage.color import deltaE_ciede2000

from filmhand.preflight.finding import Box
from preflight.labelled import faults_shape, motifs
from preflight.labelled.draw import Layer, Shape, disc, polygons, raster, rectangle, seen_box, true_boxes
from preflight.labelled.faults_picture import _VIVID
from preflight.labelled.letters import X_OF_CAP, word
from preflight.labelled.look import look
from preflight.labelled.make import artworks
from preflight.labelled.model import CHECKS, PLACED, Made
from preflight.labelled.score import Result, overlap

SET = artworks()
CMYK = Path("/usr/share/color/icc/ghostscript/default_cmyk.icc")


def test_there_are_enough_and_half_are_sound() -> None:
    """150 at the least, each with a name of its own; sound and faulty ones within a twentieth of half."""
    sound = sum(not made.faults for made in SET)
    assert len(SET) >= 150
    assert len({made.name for made in SET}) == len(SET)
    assert sound / len(SET) == pytest.approx(0.5, abs=0.05)


@pytest.mark.parametrize("check", CHECKS)
def test_every_check_has_faults(check: str) -> None:
    """Eight at the least, and none that is called both a fault and unsure."""
    assert Counter(fault for made in SET for fault in made.faults)[check] >= 8
    assert not [made.name for made in SET if made.faults & made.unsure]


def test_what_is_faulty_is_of_a_known_check() -> None:
    """A misspelt check would never be found."""
    assert {check for made in SET for check in made.faults | made.unsure | made.mended} <= set(CHECKS)


# One of each kind of drawing and file.
SAMPLE = ("sound-crest-0", "sound-pdf-badge", "line-hairs-0.25", "gap-bricks-0.25", "specks-three-0.25", "halo-glow-0")
SAMPLE += ("fringe-badge-cut-1-0", "inks-345", "fonts-one-of-two", "lettering-motto-1.2")


def _named(name: str) -> Made:
    return next(made for made in SET if made.name == name)


@pytest.mark.parametrize("name", SAMPLE)
def test_drawing_gives_the_same_each_time_and_true_places_lie_inside(name: str) -> None:
    """Byte for byte; boxes have an area, within the picture."""
    first, again = _named(name).draw(), _named(name).draw()
    assert first == again
    for check in _named(name).faults & set(PLACED):
        assert first.places[check]
    for box in (box for boxes in first.places.values() for box in boxes):
        assert 0 <= box.left < box.left + box.width <= 1 + 1e-9
        assert 0 <= box.top < box.top + box.height <= 1 + 1e-9


def _film(layers: list[Layer]) -> Shape:
    film: Shape = shapely.Polygon()
    for layer in layers:
        film = film.difference(layer.shape) if layer.cuts else film.union(layer.shape)
    return film


def _lost(shape: Shape, diameter: float) -> Iterator[Shape]:
    """What a disc of a diameter cannot reach within a shape, by shapely's buffers: tips, and all that is too narrow."""
    reached = shape.buffer(-diameter / 2, quad_segs=24).buffer(diameter / 2 + 0.01, quad_segs=24)
    yield from polygons(shape.difference(reached))


@pytest.mark.parametrize("motif", motifs.SOUND)
def test_sound_motifs_are_nowhere_too_thin_or_too_close(motif: motifs.Motif) -> None:
    """Discs of 0.44 mm reach all film, and of 0.33 mm all gaps, but tips of 0.25 mm² at most; nothing is cut by the canvas."""
    for seed, (width, height) in enumerate(((64, 48), (100, 60))):
        film = _film(motif(width, height, motifs.ON_BLACK[0], np.random.default_rng(seed)))
        assert shapely.box(-0.05, -0.05, width + 0.05, height + 0.05).covers(film)
        around = shapely.box(-5, -5, width + 5, height + 5)
        assert max((part.area for part in _lost(film, 0.44)), default=0) < 0.25
        assert max((part.area for part in _lost(around.difference(film), 0.33)), default=0) < 0.25


@pytest.mark.parametrize("name", faults_shape._LINES)
def test_thin_lines_are_thin(name: str) -> None:
    """A disc of 0.4 mm hardly fits anywhere in them: where a star's lines meet, and letters' strokes."""
    piece, width, _ = faults_shape._LINES[name]
    assert width < 0.4
    assert piece(width).buffer(-0.2, quad_segs=24).area < 0.01 * piece(width).area


@pytest.mark.parametrize("name", faults_shape._GAPS)
def test_thin_gaps_are_thin(name: str) -> None:
    """Hardly anywhere in them does a disc of 0.3 mm fit: where bricks' joints meet, and in letters' junctions."""
    piece, width = faults_shape._GAPS[name]
    assert width < 0.3
    assert piece(width).buffer(-0.15, quad_segs=24).area < 0.01 * piece(width).area


@pytest.mark.parametrize("size", [1.0, 2.5])
def test_letters_have_the_height_that_is_asked(size: float) -> None:
    """An x is as high as said, measured on the shape; capitals too."""
    for letter, height in (("x", X_OF_CAP * size), ("H", size)):
        _, top, _, bottom = word(letter, cap_mm=size).bounds
        assert bottom - top == pytest.approx(height, rel=0.02)


def test_coverage_is_exact_and_boxes_lie_where_it_is_drawn() -> None:
    """A disc's area is πd²/4; its box is that of the pixels that it touches, of what is seen."""
    picture = raster([Layer(disc(10, 12, 8), (9, 9, 9)), Layer(rectangle(2, 2, 2, 2), (9, 9, 9))], 30, 20, ppi=254)
    alpha = picture.pixels[..., 3]
    assert alpha.sum() / 255 == pytest.approx(np.pi * 40**2 + 20 * 20, rel=0.005)
    (box,) = true_boxes([disc(10, 12, 8)], seen_box(alpha), 254)
    assert (box.left, box.top) == pytest.approx((40 / 120, 60 / 140), abs=0.02)
    assert (box.left + box.width, box.top + box.height) == pytest.approx((1, 1), abs=0.02)


@pytest.mark.parametrize(
    ("other", "expected"),
    [(Box(0, 0, 1, 1), 1.0), (Box(0.5, 0, 1, 1), 1 / 3), (Box(0, 0, 0.5, 0.5), 0.25), (Box(2, 0, 1, 1), 0.0)],
)
def test_overlap_of_boxes(other: Box, expected: float) -> None:
    """Worked out by hand."""
    assert overlap(Box(0, 0, 1, 1), other) == pytest.approx(expected)


@pytest.mark.skipif(not CMYK.exists(), reason="needs default_cmyk.icc (Debian libgs-common)")
def test_colours_are_printable_or_not_as_the_set_says() -> None:
    """There and back through an offset profile by LittleCMS: palettes come back within ΔE00 5, vivid colours beyond 10."""
    srgb, lab, flags = ImageCms.createProfile("sRGB"), ImageCms.createProfile("LAB"), ImageCms.Flags.BLACKPOINTCOMPENSATION
    intent = ImageCms.Intent.RELATIVE_COLORIMETRIC
    there = ImageCms.buildTransform(srgb, str(CMYK), "RGB", "CMYK", intent, flags)
    printed = ImageCms.buildTransform(str(CMYK), lab, "CMYK", "LAB", intent, flags)
    wanted = ImageCms.buildTransform(srgb, lab, "RGB", "LAB", intent)

    def lab_of(picture: Image.Image, transform: ImageCms.ImageCmsTransform) -> np.ndarray:
        light, a, b = np.asarray(ImageCms.applyTransform(picture, transform))[0, 0]
        return np.array([light * (100 / 255), a.view(np.int8), b.view(np.int8)])

    def difference(colour: tuple[int, int, int]) -> float:
        picture = Image.new("RGB", (1, 1), colour)
        return float(deltaE_ciede2000(lab_of(picture, wanted), lab_of(ImageCms.applyTransform(picture, there), printed)))

    assert all(difference(ink) < 5 for inks in (*motifs.ON_BLACK, *motifs.ON_WHITE) for ink in inks)
    assert all(difference(colour) > 10 for _, colour, _ in _VIVID)


LOOKED_AT = ("sound-badge-0", "sound-pdf-crest", "line-wave-0.3", "gap-slope-0.2", "soft-fade", "coarse-crest-150")
LOOKED_AT += ("ground-gray", "empty-png", "fit-both", "readable-eps")


@pytest.mark.parametrize("name", LOOKED_AT)
def test_a_few_of_the_set_are_seen_as_they_are(name: str, tmp_path: Path) -> None:
    """What is wrong with them is said, and nothing else, at WARN or worse."""
    made = _named(name)
    sent = made.draw()
    seen = look(made, sent, tmp_path)
    assert Result(made, sent, seen.findings, seen.left, seen.seconds).said - made.unsure == made.faults


def test_what_is_mended_is_told_from_what_is_left(tmp_path: Path) -> None:
    """Removed ground is said; looked at again, there is none."""
    made = _named("mend-ground-white")
    sent = made.draw()
    seen = look(made, sent, tmp_path)
    result = Result(made, sent, seen.findings, seen.left, seen.seconds)
    assert "ground" in result.said
    assert not result.not_mended
