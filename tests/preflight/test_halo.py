"""Halos: a ground that is not quite one colour round its motif."""

from collections.abc import Callable

import cv2
import numpy as np
import pytest
from cut_outs import Pixels, badge, jpeg, over, png
from PIL import Image, ImageFilter

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


def test_a_pale_outline_that_was_drawn_is_none(rule_of: RuleOf, printer: Printer) -> None:
    """Cream, 15 pixels wide, ΔE00 7 from white (scikit-image): a shape of its own."""
    motif = badge(BLUE)
    pale = np.full_like(motif, 255)
    pale[..., :3] = (252, 246, 228)
    pale[..., 3] = cv2.dilate(motif[..., 3], np.ones((31, 31), np.uint8))
    assert _found(png(_under(motif, over(pale, WHITE))), rule_of(), printer) is None


def test_cut_out_artwork_and_pictures_have_none(rule_of: RuleOf, printer: Printer) -> None:
    """There is no ground to have one."""
    assert _found(png(badge(BLUE)), rule_of(), printer) is None
    noise = np.random.default_rng(0).integers(0, 256, (200, 200, 4), dtype=np.uint8)
    noise[..., 3] = 255
    assert _found(png(noise), rule_of(), printer) is None
