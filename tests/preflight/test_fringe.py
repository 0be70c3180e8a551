"""Fringes: what a careless cut-out leaves is seen, in whichever way it was left; clean edges and drawn outlines are none."""

from collections.abc import Callable

import cv2
import numpy as np
import pytest
from cut_outs import Pixels, badge, over, png, with_alpha
from PIL import Image, ImageDraw
from skimage import data

from filmhand.artwork.model import PrintedSize
from filmhand.preflight import fringe
from filmhand.preflight.finding import Finding
from filmhand.rules import Printer, Rule

RuleOf = Callable[..., Rule]

COLOURS = [(20, 40, 160), (200, 30, 40), (250, 214, 0), (110, 150, 90)]
WHITE, BLACK, GREEN = (255, 255, 255), (0, 0, 0), (0, 160, 80)


def _found(pixels: Pixels, rule: Rule, printer: Printer, *, ppi: float = 300) -> Finding | None:
    size = PrintedSize(pixels.shape[1] * 25.4 / ppi, pixels.shape[0] * 25.4 / ppi)
    findings = fringe.check(png(pixels), size, rule=rule, printer=printer)
    return findings[0] if findings else None


def _rimmed(motif: Pixels, colour: tuple[int, int, int], width: int) -> Pixels:
    """With a line of a colour drawn around, so many pixels wide."""
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * width + 1, 2 * width + 1))
    return with_alpha(over(motif, colour), cv2.dilate(motif[..., 3], disc))


@pytest.mark.parametrize("colour", COLOURS)
@pytest.mark.parametrize("ppi", [100, 300, 600])
def test_clean_edges_have_none(rule_of: RuleOf, printer: Printer, colour: tuple[int, int, int], ppi: float) -> None:
    """An antialiased motif in one colour, half-transparent pixels included."""
    assert _found(badge(colour), rule_of(preflight={"fringe": {"warn": 1}}), printer, ppi=ppi) is None


@pytest.mark.parametrize("colour", COLOURS)
@pytest.mark.parametrize(("ground", "words"), [(WHITE, "light rim (#ffffff)"), (BLACK, "dark rim"), (GREEN, "another colour")])
def test_a_matte_left_in_half_transparent_edges(
    rule_of: RuleOf, printer: Printer, colour: tuple[int, int, int], ground: tuple[int, int, int], words: str
) -> None:
    """Edges keep the alpha they should have, and the colour they had over the ground. Over black that is premultiplied colour."""
    motif = badge(colour)
    found = _found(with_alpha(over(motif, ground), motif[..., 3]), rule_of(), printer)
    assert found is not None
    assert found.value is not None
    # A part of the outline lies between pixels and has no mixed one; green on olive is hardly seen where little of it is mixed.
    assert found.value > (25 if ground == GREEN else 40)
    assert words in str(found.message)
    assert found.where


@pytest.mark.parametrize("colour", COLOURS)
@pytest.mark.parametrize("tolerance", [4, 32])
def test_a_ground_taken_away_pixel_by_pixel(
    rule_of: RuleOf, printer: Printer, colour: tuple[int, int, int], tolerance: int
) -> None:
    """What was near white is gone, what was mixed with white is left, solid."""
    flat = over(badge(colour), WHITE)
    left = np.where(np.abs(255 - flat[..., :3].astype(int)).max(axis=-1) <= tolerance, 0, 255).astype(np.uint8)
    found = _found(with_alpha(flat, left), rule_of(), printer)
    assert found is not None
    assert found.value is not None
    assert found.value > 50


@pytest.mark.parametrize(("width_px", "is_fringe"), [(1, True), (2, True), (8, False), (12, False), (24, False)])
def test_a_white_outline_is_meant_once_it_is_wide(rule_of: RuleOf, printer: Printer, width_px: int, is_fringe: bool) -> None:
    """At 300 ppi: 0.08 and 0.17 mm are a fringe, 0.7 mm and more a sticker's border."""
    found = _found(_rimmed(badge(COLOURS[0]), WHITE, width_px), rule_of(), printer)
    assert (found is not None) is is_fringe


@pytest.mark.parametrize("colour", [BLACK, GREEN])
@pytest.mark.parametrize(
    ("width_px", "ppi", "is_fringe"),
    [(1, 300, True), (2, 300, True), (2, 600, True), (2, 150, False), (4, 300, False), (4, 600, False), (6, 300, False)],
)
def test_a_solid_outline_is_meant_once_it_would_print(
    rule_of: RuleOf, printer: Printer, colour: tuple[int, int, int], width_px: int, ppi: float, *, is_fringe: bool
) -> None:
    """Of four pixels, or 0.3 mm, it is drawn; thinner, it is what a selection some pixels too large leaves."""
    found = _found(_rimmed(badge(COLOURS[1]), colour, width_px), rule_of(), printer, ppi=ppi)
    assert (found is not None) is is_fringe


def test_large_pixels_are_a_style(rule_of: RuleOf, printer: Printer) -> None:
    """At 20 ppi one pixel is wider than a millimetre: a white pixel's border is drawn."""
    assert _found(_rimmed(badge(COLOURS[0], side=100), WHITE, 1), rule_of(), printer, ppi=20) is None


@pytest.mark.parametrize("name", ["astronaut", "coffee", "chelsea", "rocket"])
def test_photos_cut_out_cleanly_have_none(rule_of: RuleOf, printer: Printer, name: str) -> None:
    """scikit-image's photographs cut out by an oval: their own detail along it is no fringe; a white matte is."""
    photo = getattr(data, name)()
    height, width = photo.shape[:2]
    oval = Image.new("L", (width * 4, height * 4))
    ImageDraw.Draw(oval).ellipse((60, 60, width * 4 - 60, height * 4 - 60), fill=255)
    motif = np.dstack([photo, np.asarray(oval.reduce(4))])
    assert _found(motif, rule_of(), printer, ppi=150) is None
    assert _found(with_alpha(over(motif, WHITE), motif[..., 3]), rule_of(), printer, ppi=150) is not None


def test_opaque_artwork_has_no_outline(rule_of: RuleOf, printer: Printer) -> None:
    """A filled rectangle is the ground's matter."""
    assert _found(over(badge(COLOURS[0]), WHITE), rule_of(), printer) is None


def test_shapes_drawn_edge_to_edge_have_none(rule_of: RuleOf, printer: Printer) -> None:
    """A dark wing on a light one of the same outline, as vector programs stack them: it shows in mixed pixels there."""
    motif = badge(COLOURS[0])
    upper = motif.copy()
    upper[:, 120:] = 0
    lower = with_alpha(np.broadcast_to(np.array([255, 180, 60], np.uint8), (*motif.shape[:2], 3)), upper[..., 3])
    stacked = Image.fromarray(np.where(upper[..., 3:] > 0, lower, motif))
    stacked.alpha_composite(Image.fromarray(upper))
    assert _found(np.asarray(stacked), rule_of(), printer) is None
