"""A filled rectangle of one colour."""

from collections.abc import Callable

import numpy as np
import pytest
from cut_outs import badge, jpeg, png

from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.preflight import one_colour
from filmhand.preflight.finding import Finding, Severity
from filmhand.rules import Printer, Rule

RuleOf = Callable[..., Rule]


def _found(artwork: Artwork, rule: Rule, printer: Printer) -> Finding | None:
    findings = one_colour.check(artwork, PrintedSize(50, 50), rule=rule, printer=printer)
    return findings[0] if findings else None


def _filled(colour: tuple[int, int, int], *, other_rows: int = 0) -> np.ndarray:
    pixels = np.full((1000, 1000, 4), (*colour, 255), np.uint8)
    pixels[:other_rows, :, :3] = (30, 120, 30)
    return pixels


@pytest.mark.parametrize("colour", [(255, 255, 255), (0, 0, 0), (200, 30, 40)])
def test_an_empty_export_is_held(rule_of: RuleOf, printer: Printer, colour: tuple[int, int, int]) -> None:
    """All of it one colour, named; as JPEG too."""
    for artwork in (png(_filled(colour)), jpeg(_filled(colour), 70)):
        found = _found(artwork, rule_of(), printer)
        assert found is not None
        assert (found.severity, found.limit, found.unit) == (Severity.HOLD, 99.5, "%")
        assert found.value == pytest.approx(100)


@pytest.mark.parametrize(("other_rows", "is_held"), [(4, True), (5, False), (6, False)])
def test_the_share_is_exact(rule_of: RuleOf, printer: Printer, other_rows: int, is_held: bool) -> None:
    """99.6 % is above 99.5, 99.5 and 99.4 are not."""
    found = _found(png(_filled((255, 255, 255), other_rows=other_rows)), rule_of(), printer)
    assert (found is not None) is is_held


def test_colours_that_look_the_same_are_one(rule_of: RuleOf, printer: Printer) -> None:
    """Grays 200 and 203 are ΔE00 0.7 apart, 200 and 215 are 3.6 (scikit-image's rgb2lab and deltaE_ciede2000)."""
    for other, is_held in ((203, True), (215, False)):
        pixels = _filled((200, 200, 200))
        pixels[:300, :, :3] = other
        assert (_found(png(pixels), rule_of(), printer) is not None) is is_held


def test_a_cut_out_motif_of_one_colour_is_as_it_should_be(rule_of: RuleOf, printer: Printer) -> None:
    """As most club badges are."""
    assert _found(png(badge((200, 30, 40))), rule_of(), printer) is None
