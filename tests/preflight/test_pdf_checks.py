"""Checks of what a PDF says of itself: missing fonts, overprint, spot colours by name."""

from collections.abc import Callable

import numpy as np
import pytest

from filmhand.artwork.model import Artwork, Kind, PrintedSize
from filmhand.artwork.pdf_facts import PdfFacts
from filmhand.preflight import fonts, overprint, special_inks
from filmhand.preflight.finding import Finding, Severity
from filmhand.preflight.special_inks import Spot, kind_of_spot
from filmhand.rules import Printer, Rule

RuleOf = Callable[..., Rule]
Checked = Callable[..., tuple[Finding, ...]]


@pytest.fixture
def checked(rule_of: RuleOf, printer: Printer) -> Checked:
    """What a check says of a PDF with these facts, by these limits."""

    def run(check: object, facts: PdfFacts | None, **limits: object) -> tuple[Finding, ...]:
        artwork = Artwork(np.zeros((8, 8, 4), np.uint8), None, (360.0, 360.0), Kind.PDF, pdf=facts)
        rule = rule_of(preflight=limits) if limits else rule_of()
        found: tuple[Finding, ...] = check.check(artwork, PrintedSize(100, 100), rule=rule, printer=printer)  # type: ignore[attr-defined]
        return found

    return run


def test_missing_fonts_are_counted_and_named(checked: Checked) -> None:
    """Two are more than none: held by default, let pass up to the rule's limit. Other kinds of file have no fonts."""
    facts = PdfFacts(missing_fonts=("Helvetica", "Futura"))
    (finding,) = checked(fonts, facts)
    assert (finding.severity, finding.value, finding.limit) == (Severity.HOLD, 2, 0)
    assert "Helvetica, Futura" in str(finding.message)
    assert checked(fonts, facts, fonts={"warn": 2}) == ()
    assert checked(fonts, PdfFacts()) == checked(fonts, None) == ()


def test_overprint_is_counted(checked: Checked) -> None:
    """A warning by default; a shop may have it held from some number on."""
    assert [f.severity for f in checked(overprint, PdfFacts(overprints=1))] == [Severity.WARN]
    assert [f.severity for f in checked(overprint, PdfFacts(overprints=9), overprint={"warn": 0, "hold": 8})] == [Severity.HOLD]
    assert checked(overprint, PdfFacts()) == checked(overprint, None) == ()


def test_spots_are_told_apart_by_name(checked: Checked) -> None:
    """Metal and varnish, a white plate and a cutting line each have their own sentence; an ordinary spot colour is a note."""
    found = checked(special_inks, PdfFacts(spots=("Gold", "Blanco", "PANTONE 185 C", "UV-Lack", "CutContour")))
    assert [(f.severity, f.value) for f in found] == [
        (Severity.HOLD, 2),
        (Severity.HOLD, 1),
        (Severity.HOLD, 1),
        (Severity.NOTE, None),
    ]
    named = ("Gold, UV-Lack", "Blanco", "CutContour", "PANTONE 185 C")
    assert all(name in str(f.message) for name, f in zip(named, found, strict=True))
    assert checked(special_inks, PdfFacts(spots=("Gold",)), special_inks={"hold": 1}) == ()
    assert checked(special_inks, None) == ()


def test_a_rule_may_let_everything_pass(checked: Checked) -> None:
    """Checks go by the rule alone; twelve names are cut to the first few."""
    many = PdfFacts(missing_fonts=tuple(f"Font{n}" for n in range(12)))
    (finding,) = checked(fonts, many)
    assert str(finding.message).count("Font") == 8
    assert checked(fonts, many, fonts={"warn": 12}) == ()


# The words are common practice in four languages, no source; the colour-library numbers are from memory.
@pytest.mark.parametrize(
    ("kind", "names"),
    [
        (Spot.SPECIAL, "Gold|Silber|plata|Argent|PANTONE 877 C|PANTONE 8003 C|PMS 802|Neon Pink|Amarillo flúor|Rose fluo"),
        (Spot.SPECIAL, "UV-Lack|Effektlack|Barniz UV|Vernis|SpotUV|Goldfolie|Hot Foil|Glitter|metallic red|Leuchtrot|Prägung"),
        (Spot.WHITE, "White|WHITE INK|SpotWhite|Weiß|weiss|Blanco opaco|Blanc|Underbase"),
        (Spot.CUT, "CutContour|Thru-cut|Stanzkontur|Dieline|Troquel|Découpe"),
        (Spot.ORDINARY, "PANTONE 185 C|PANTONE Black C|Black 2|Goldenrod|Marigold|Off White|PANTONE 2905 C|HKS 43|Reflex Blue"),
        (Spot.ORDINARY, "Orange|Orchid|Cutlass red|Silbergrau|PANTONE 185 C 877|Diesel Blue|Metro|Black Olive|"),
    ],
)
def test_names_of_inks(kind: Spot, names: str) -> None:
    """What people call metal, neon, varnish, foil, white and cutting lines, and what only sounds alike."""
    assert {name: kind_of_spot(name) for name in names.split("|")} == dict.fromkeys(names.split("|"), kind)
