"""Halos: a ground that is not quite one colour round its motif."""

from collections.abc import Callable

import cv2
import numpy as np
import pytest
from cut_outs import Pixels, badge, jpeg, over, png
from PIL import Image, ImageFilter

from filmhand.artwork.background import ground_of, without_ground
from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.preflight import halo
from filmhand.preflight.finding import Finding, Severity
from filmhand.rules import Printer, Rule

RuleOf = Callable[..., Rule]

WHITE = (255, 255, 255)
BLUE = (20, 40, 160)


def _found(artwork: Artwork, rule: Rule, printer: Printer) -> Finding | None:
    findings = halo.check(artwork, PrintedSize(80, 80), rule=rule, printer=printer)
    return findings[0] if findings else None


def _shadowed(motif: Pixels, sigma: float, strength: float) -> Pixels:
    """On white, with a soft shadow right behind it."""
    shadow = np.zeros_like(motif)
    blurred = np.asarray(Image.fromarray(motif[..., 3]).filter(ImageFilter.GaussianBlur(sigma)))
    shadow[..., 3] = np.rint(blurred * strength)
    return _under(motif, over(shadow, WHITE))


def _under(motif: Pixels, ground: Pixels) -> Pixels:
    picture = Image.fromarray(ground)
    picture.alpha_composite(Image.fromarray(motif))
    return np.asarray(picture)


def _ringed(motif: Pixels, colour: tuple[int, int, int], width_px: int) -> Pixels:
    """On white, with a band of a colour around it."""
    pale = np.full_like(motif, 255)
    pale[..., :3] = colour
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * width_px + 1, 2 * width_px + 1))
    pale[..., 3] = cv2.dilate(motif[..., 3], disc)
    return _under(motif, over(pale, WHITE))


def _left(flat: Artwork, motif: Pixels) -> float:
    """The share of the outline, in percent, beside which film is left on bare ground where the ground is taken away."""
    tolerance = 4.0
    ground = ground_of(flat, tolerance)
    assert ground is not None
    film = without_ground(flat, ground, tolerance).pixels[..., 3] >= 128
    bare = cv2.dilate(motif[..., 3], np.ones((5, 5), np.uint8)) == 0
    beside = cv2.dilate((film & bare).view(np.uint8), np.ones((17, 17), np.uint8)) > 0
    solid = (motif[..., 3] >= 128).view(np.uint8)
    return 100 * float(np.mean(beside[(solid == 1) & (cv2.erode(solid, np.ones((3, 3), np.uint8)) == 0)]))


@pytest.mark.parametrize("ground", [WHITE, (128, 128, 128), (0, 0, 0)])
def test_an_even_ground_has_none(rule_of: RuleOf, printer: Printer, ground: tuple[int, int, int]) -> None:
    """Antialiased, as PNG and as JPEG of everyday qualities."""
    flat = over(badge((200, 120, 40)), ground)
    for artwork in (png(flat), jpeg(flat, 95), jpeg(flat, 85), jpeg(flat, 75)):
        assert _found(artwork, rule_of(), printer) is None


@pytest.mark.parametrize("sigma", [6, 12])
def test_a_shadow_is_one(rule_of: RuleOf, printer: Printer, sigma: float) -> None:
    """All around: held, as the rule's 40 % says, and marked."""
    found = _found(png(_shadowed(badge(BLUE), sigma, 0.6)), rule_of(), printer)
    assert found is not None
    assert found.value is not None
    assert found.value > 70
    assert found.severity is Severity.HOLD
    assert "#ffffff" in str(found.message)
    assert found.where


@pytest.mark.parametrize("width_px", [4, 8, 14])
@pytest.mark.parametrize("colour", [(240, 236, 228), (230, 230, 230)])
def test_a_pale_rim_all_around_is_one(rule_of: RuleOf, printer: Printer, colour: tuple[int, int, int], width_px: int) -> None:
    """0.6 to 2.2 mm of a ground that was almost white, ΔE00 5 and 6 from it (scikit-image): left all around, it shows."""
    found = _found(png(_ringed(badge(BLUE), colour, width_px)), rule_of(), printer)
    assert found is not None
    assert found.value is not None
    assert found.value > 70


@pytest.mark.parametrize("width_px", [4, 8, 14])
def test_a_pale_rim_in_a_jpeg_is_one_unless_it_goes_with_the_ground(rule_of: RuleOf, printer: Printer, width_px: int) -> None:
    """As narrow as a block's noise it is taken away as such, and nothing is left that could show."""
    motif = badge(BLUE)
    flat = jpeg(_ringed(motif, (240, 236, 228), width_px), 90)
    assert (_found(flat, rule_of(), printer) is not None) is (_left(flat, motif) > 50)


@pytest.mark.parametrize(
    ("colour", "width_px"),
    [((252, 246, 228), 20), ((214, 200, 170), 8), ((246, 246, 246), 8)],
    ids=["as wide as a sticker's border", "plain to see", "within the ground's tolerance"],
)
def test_a_pale_outline_that_was_drawn_is_none(
    rule_of: RuleOf, printer: Printer, colour: tuple[int, int, int], width_px: int
) -> None:
    """ΔE00 8, 17 and 2 from white (scikit-image): the first two are shapes of their own, the last goes with its ground."""
    assert _found(png(_ringed(badge(BLUE), colour, width_px)), rule_of(), printer) is None


def test_a_pale_shape_behind_the_motif_is_none(rule_of: RuleOf, printer: Printer) -> None:
    """A card of cream has an outline of its own."""
    card = np.full((500, 500, 4), 255, np.uint8)
    card[15:-15, 15:-15, :3] = (252, 246, 228)
    assert _found(png(_under(badge(BLUE), card)), rule_of(), printer) is None


@pytest.mark.parametrize("colour", [BLUE, (200, 30, 40), (0, 0, 0)])
def test_jpeg_noise_is_one_where_it_would_be_left(rule_of: RuleOf, printer: Printer, colour: tuple[int, int, int]) -> None:
    """Measured against the drawing: silent where taking the ground away leaves nothing, aloud where it leaves a lot."""
    motif = badge(colour)
    flats = [jpeg(over(motif, WHITE), quality) for quality in (3, 5, 10, 20, 40, 60)]
    shares = [(_left(flat, motif), _found(flat, rule_of(), printer) is not None) for flat in flats]
    assert not any(found for left, found in shares if left < 5)
    assert all(found for left, found in shares if left > 20)
    assert any(left > 20 for left, _ in shares)


def test_a_ground_that_is_printed_may_be_anything(rule_of: RuleOf, printer: Printer) -> None:
    """Nothing is taken away, so nothing is left."""
    shadowed = png(_shadowed(badge(BLUE), 6, 0.6))
    assert _found(shadowed, rule_of(background={"opaque": "print"}), printer) is None


def test_cut_out_artwork_and_pictures_have_none(rule_of: RuleOf, printer: Printer) -> None:
    """There is no ground to have one."""
    assert _found(png(badge(BLUE)), rule_of(), printer) is None
    noise = np.random.default_rng(0).integers(0, 256, (200, 200, 4), dtype=np.uint8)
    noise[..., 3] = 255
    assert _found(png(noise), rule_of(), printer) is None
