"""Resolution, fit, ground, softness, emptiness: each check's value, limit and severity, and what it tells the customer."""

import io
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from PIL import Image, ImageDraw

from filmhand.artwork.model import Artwork, Kind, PrintedSize
from filmhand.preflight import empty, film_fit, ground, resolution, soft_edge
from filmhand.preflight.finding import Box, Finding, Report, Severity, numbered
from filmhand.preflight.inspect import inspect
from filmhand.preflight.marked import MOST_PX, marked_picture
from filmhand.preflight.places import Places
from filmhand.rules import Printer, Rule
from filmhand.words import Words

Draw = Callable[..., Artwork]
RuleOf = Callable[..., Rule]


def _blank(width: int, height: int, alpha: int = 255, kind: Kind = Kind.PNG) -> Artwork:
    pixels = np.full((height, width, 4), 90, np.uint8)
    pixels[..., 3] = alpha
    return Artwork(pixels, None, None, kind)


@pytest.mark.parametrize(
    ("ppi", "severity"),
    [(99.99, Severity.REJECT), (100, Severity.WARN), (199.99, Severity.WARN), (200, None), (600, None)],
)
def test_resolution_against_its_limits(rule_of: RuleOf, printer: Printer, ppi: float, severity: Severity | None) -> None:
    """Nothing is rounded before it is compared (Ghent Workgroup 2022, I00005, at second hand)."""
    size = PrintedSize(1000 * 25.4 / ppi, 800 * 25.4 / ppi)
    found = resolution.check(_blank(1000, 800), size, rule=rule_of(), printer=printer)
    assert [finding.severity for finding in found] == ([] if severity is None else [severity])
    if found:
        assert found[0].value == pytest.approx(ppi)
        assert found[0].unit == "ppi"


def test_resolution_asks_for_pixels(rule_of: RuleOf, printer: Printer) -> None:
    """10 × 5 inches at 200 ppi are 2,000 × 1,000 pixels; 720 pixels wide it may be 3.6 inches, 91 mm."""
    (finding,) = resolution.check(_blank(720, 360), PrintedSize(254, 127), rule=rule_of(), printer=printer)
    assert "72 pixels an inch" in str(finding.message)
    assert "2,000 × 1,000 pixels" in str(finding.advice)
    assert "91 mm" in str(finding.advice)


def test_resolution_takes_the_smaller_direction(rule_of: RuleOf, printer: Printer) -> None:
    """200 × 100 ppi count as 100 (Ghent Workgroup D0018)."""
    found = resolution.check(
        _blank(200, 100), PrintedSize(25.4, 25.4), rule=rule_of(preflight={"ppi": {"warn": 150}}), printer=printer
    )
    assert found[0].value == pytest.approx(100)


def test_resolution_of_a_pdf_is_that_of_its_pictures(rule_of: RuleOf, printer: Printer) -> None:
    """Lines have none; a picture's 150 ppi at 2 inches stated are 75 at 4 inches printed."""
    drawing = replace(_blank(720, 720, kind=Kind.PDF), ppi=(360.0, 360.0))
    assert resolution.check(drawing, PrintedSize(500, 500), rule=rule_of(), printer=printer) == ()
    (finding,) = resolution.check(replace(drawing, raster_ppi=150.0), PrintedSize(101.6, 101.6), rule=rule_of(), printer=printer)
    assert finding.value == pytest.approx(75)
    assert finding.severity is Severity.REJECT


@pytest.mark.parametrize(
    ("size", "gang", "limit"),
    [
        ((580, 4980), {}, None),
        ((4980, 580), {}, None),  # turned
        ((580.001, 600), {}, 580),
        ((581, 581), {}, 580),
        ((4980, 580), {"rotate": [0]}, 580),
        ((500, 4981), {}, 4980),  # a sheet of 5 m has 10 mm of margin at each end
        ((400, 1000), {"max_length": "1 m"}, 980),
        ((410, 410), {"rotate": [45]}, None),  # 410 √2 = 579.8
        ((500, 400), {"films": ["330 mm", "450 mm"]}, None),  # 430 mm between the margins of the widest in stock
        ((500, 431), {"films": ["330 mm", "450 mm"]}, 430),
        ((400, 972), {"max_length": "1 m", "gap": "4 mm", "marks": {"header": True}}, None),  # 6 mm of header, half a gap
        ((400, 973), {"max_length": "1 m", "gap": "4 mm", "marks": {"header": True}}, 972),
        ((411, 411), {"rotate": [45]}, 580),  # 581.2
    ],
)
def test_what_fits_the_film(
    rule_of: RuleOf, printer: Printer, size: tuple[float, float], gang: dict[str, Any], limit: float | None
) -> None:
    """580 mm between the margins, in every rotation allowed, and the longest sheet."""
    found = film_fit.check(_blank(10, 10), PrintedSize(*size), rule=rule_of(gang=gang), printer=printer)
    assert [finding.limit for finding in found] == ([] if limit is None else [limit])
    assert all(finding.severity is Severity.REJECT for finding in found)


@pytest.mark.parametrize(("size", "fits"), [((400, 500), True), ((500, 400), True), ((401, 450), False), ((100, 501), False)])
def test_what_fits_the_rule(rule_of: RuleOf, printer: Printer, size: tuple[float, float], fits: bool) -> None:
    """`max`, however the print lies; the advice names a size that fits."""
    rule = rule_of(size={"max": ["400 mm", "500 mm"]})
    found = film_fit.check(_blank(10, 10), PrintedSize(*size), rule=rule, printer=printer)
    assert bool(found) is not fits
    for finding in found:
        excess = max(min(size) / 400, max(size) / 500)
        assert f"{int(size[0] / excess)} × {int(size[1] / excess)} mm" in str(finding.advice)


@pytest.mark.parametrize(
    ("opaque", "severity"),
    [("print", Severity.NOTE), ("hold", Severity.HOLD), ("reject", Severity.REJECT), ("remove", Severity.HOLD)],
)
def test_opaque_artwork_is_treated_as_the_rule_says(rule_of: RuleOf, printer: Printer, opaque: str, severity: Severity) -> None:
    """`remove` that reaches preflight found nothing to remove: a person decides."""
    noise = np.random.default_rng(0).integers(0, 256, (60, 60, 4), dtype=np.uint8)
    noise[..., 3] = 255
    artwork = Artwork(noise, None, None, Kind.JPEG)
    (finding,) = ground.check(artwork, PrintedSize(50, 50), rule=rule_of(background={"opaque": opaque}), printer=printer)
    assert finding.severity is severity
    assert finding.where == (Box(0, 0, 1, 1),)
    assert ("no single background colour" in str(finding.message)) is (opaque == "remove")


def test_transparent_artwork_has_no_ground(rule_of: RuleOf, printer: Printer, drawn: Draw) -> None:
    """Nor has a rounded card with a border of nothing."""
    artwork = drawn(30, 30, 100, lambda draw, scale: draw.rounded_rectangle((0, 0, 30 * scale, 30 * scale), 5 * scale, fill=255))
    assert ground.check(artwork, PrintedSize(30, 30), rule=rule_of(), printer=printer) == ()


def test_a_ground_of_the_garments_colour_is_left_bare_by_a_full_knockout(rule_of: RuleOf, printer: Printer) -> None:
    """Black ground, the shirt's own or full black, prints nothing on a black shirt; else, or at half strength, it is held."""
    for black, garment, strength, severity in (
        ((27, 27, 29), "#1b1b1d", 1, Severity.NOTE),
        ((0, 0, 0), "#1b1b1d", 1, Severity.NOTE),
        ((0, 0, 60), "#1b1b1d", 1, Severity.HOLD),
        ((27, 27, 29), "#1b1b1d", 0.5, Severity.HOLD),
        ((27, 27, 29), "#204080", 1, Severity.HOLD),
        ((0, 0, 0), "#204080", 1, Severity.HOLD),
    ):
        pixels = np.full((80, 80, 4), (*black, 255), np.uint8)
        pixels[20:60, 20:60, :3] = 240
        artwork = Artwork(pixels, None, None, Kind.JPEG)
        rule = rule_of(garment=garment, knockout={"strength": strength})
        (finding,) = ground.check(artwork, PrintedSize(50, 50), rule=rule, printer=printer)
        assert finding.severity is severity


@pytest.mark.parametrize(("alpha", "share"), [(128, 50), (12, 0), (243, 0), (13, 50), (242, 50)])
def test_share_of_half_transparent_areas(rule_of: RuleOf, printer: Printer, alpha: int, share: float) -> None:
    """One half solid, one half of a given alpha: 5 to 95 % counts as half transparent, of what is seen."""
    artwork = _blank(400, 200)
    pixels = artwork.pixels.copy()
    pixels[:, 200:, 3] = alpha
    rule = rule_of(preflight={"soft_edge": {"warn": 0.5, "hold": 60}})
    found = soft_edge.check(replace(artwork, pixels=pixels), PrintedSize(100, 50), rule=rule, printer=printer)
    assert [finding.value for finding in found] == ([pytest.approx(share, abs=1)] if share else [])
    if found:
        assert found[0].where[0].left == pytest.approx(0.5, abs=0.03)


@pytest.mark.parametrize(("fade_mm", "counts"), [(0.2, False), (0.8, False), (3.0, True)])
def test_smooth_edges_are_set_apart(rule_of: RuleOf, printer: Printer, fade_mm: float, counts: bool) -> None:
    """A disc that fades out over less than 1 mm has a smooth edge; over 3 mm it has a glow."""
    y, x = np.mgrid[:600, :600] * (60 / 600)  # 60 mm at ten pixels a millimetre
    alpha = np.clip((20 - np.hypot(x - 30, y - 30)) / fade_mm + 0.5, 0, 1) * 255
    pixels = np.dstack((np.full((600, 600, 3), 80), alpha)).astype(np.uint8)
    rule = rule_of(preflight={"soft_edge": {"warn": 1}})
    found = soft_edge.check(Artwork(pixels, None, None, Kind.PNG), PrintedSize(60, 60), rule=rule, printer=printer)
    assert bool(found) is counts
    if counts:  # the ring between 5 and 95 %: 2 π · 20 · 0.9 · 3 of π · 21.5², in mm
        assert found[0].value == pytest.approx(100 * 2 * 20 * 2.7 / 21.35**2, rel=0.05)


def test_a_huge_print_is_looked_at_within_bounds(rule_of: RuleOf, printer: Printer, monkeypatch: pytest.MonkeyPatch) -> None:
    """2.8 m² at ten points a millimetre would be 284 million: fewer points, the same share."""
    monkeypatch.setattr(soft_edge, "_MOST_SAMPLES", 1_000_000)
    artwork = _blank(300, 500, alpha=128)
    (finding,) = soft_edge.check(artwork, PrintedSize(580, 4900), rule=rule_of(), printer=printer)
    assert finding.value == pytest.approx(100, abs=0.5)


def test_nothing_to_print(rule_of: RuleOf, printer: Printer) -> None:
    """All transparent, or no more than traces; one pixel is something."""
    for alpha, is_empty in ((0, True), (7, True), (8, False)):
        found = empty.check(_blank(40, 40, alpha), PrintedSize(40, 40), rule=rule_of(), printer=printer)
        assert bool(found) is is_empty
    dot = _blank(40, 40, 0).pixels.copy()
    dot[3, 3, 3] = 255
    assert not empty.check(Artwork(dot, None, None, Kind.PNG), PrintedSize(40, 40), rule=rule_of(), printer=printer)


def test_inspect_runs_in_order_and_keeps_what_opening_saw(rule_of: RuleOf, printer: Printer) -> None:
    """Opening's findings first; what cannot be printed at all is not measured further."""
    seen = Finding("profile", Severity.NOTE, Words("read as sRGB"))
    artwork = replace(_blank(100, 100), findings=(seen,))
    report = inspect(artwork, PrintedSize(100, 100), rule=rule_of(), printer=printer)
    assert [finding.check for finding in report.findings] == ["profile", "resolution", "ground", "one_colour"]
    assert report.verdict is Severity.REJECT
    large = inspect(artwork, PrintedSize(700, 700), rule=rule_of(), printer=printer)
    assert [finding.check for finding in large.findings] == ["profile", "film_fit"]
    nothing = inspect(_blank(100, 100, 0), PrintedSize(700, 700), rule=rule_of(), printer=printer)
    assert [finding.check for finding in nothing.findings] == ["empty"]


def test_every_finding_is_complete(rule_of: RuleOf, printer: Printer, drawn: Draw) -> None:
    """Sentences end in a full stop, what is more than a note gives advice, JSON goes there and back."""

    def paint(draw: ImageDraw.ImageDraw, scale: float) -> None:
        draw.rectangle((scale, scale, 20 * scale, 20 * scale), fill=120)
        draw.line((22 * scale, scale, 22 * scale, 20 * scale), fill=255, width=int(0.15 * scale))

    rule = rule_of(preflight={"thin_line": {"warn": "0.4 mm"}, "thin_gap": {"warn": "0.3 mm"}, "ppi": {"warn": 700}})
    report = inspect(drawn(25, 22, 600, paint), PrintedSize(25, 22), rule=rule, printer=printer)
    assert {finding.check for finding in report.findings} == {"resolution", "soft_edge", "thin_line"}
    for finding in report.findings:
        assert str(finding.message).endswith((".", ":"))
        assert str(finding.advice).endswith(".")
        assert finding.value is not None
        assert finding.limit is not None
        assert finding.unit in ("ppi", "%", "mm")
        assert Finding.from_json(finding.to_json()) == finding


def test_numbers_go_to_the_worst_first_and_not_to_notes() -> None:
    """As the note lists them and the picture marks them."""
    order = (Severity.NOTE, Severity.WARN, Severity.REJECT, Severity.HOLD, Severity.WARN)
    findings = [Finding(str(place), severity, Words("."), Words(".")) for place, severity in enumerate(order)]
    assert [(number, finding.check) for number, finding in numbered(findings)] == [
        (1, "2"),
        (2, "3"),
        (3, "1"),
        (4, "4"),
        (None, "0"),
    ]


def test_places_join_neighbours_and_keep_inside() -> None:
    """Two marked corners of 640 × 320: two boxes within the picture, the larger first."""
    places = Places(320, 640)
    marked = np.zeros((320, 640), np.bool_)
    marked[:5, :5] = True
    marked[300:, 600:] = True
    places.add(marked, 0, 0)
    first, second = places.boxes()
    assert (first.left + first.width, first.top + first.height) == (1, 1)
    assert first.left <= 600 / 640
    assert (second.left, second.top) == (0, 0)
    assert Places(10, 10).boxes() == ()


@pytest.mark.parametrize("garment", ["#ffffff", "#1b1b1d", "#c0392b"])
@pytest.mark.parametrize("shape", [(3000, 500), (60, 90), (1, 1)])
def test_the_marked_picture(garment: str, shape: tuple[int, int]) -> None:
    """A PNG within 1200 pixels on the garment's colour; an outline with light and dark lines lies around what is marked."""
    artwork = _blank(*shape, alpha=0)
    findings = (Finding("thin_line", Severity.REJECT, Words("."), Words("."), where=(Box(0.4, 0.4, 0.2, 0.2),)),)
    picture = Image.open(io.BytesIO(marked_picture(artwork, Report(findings), garment=garment)))
    assert picture.format == "PNG"
    assert max(picture.size) <= MOST_PX
    values = np.asarray(picture)
    ground_rgb = tuple(int(garment[i : i + 2], 16) for i in (1, 3, 5))
    assert tuple(values[-1, -1]) == ground_rgb
    colours = {tuple(int(value) for value in colour) for colour in np.unique(values.reshape(-1, 3), axis=0)}
    assert {(255, 255, 255), (0, 0, 0), (195, 22, 42)} <= colours


def test_a_picture_without_places_has_no_marks() -> None:
    """Findings that lie nowhere in particular leave the picture as it is."""
    artwork = _blank(100, 100)
    report = Report((Finding("resolution", Severity.REJECT, Words("."), Words(".")),))
    assert marked_picture(artwork, report, garment="#336699") == marked_picture(artwork, Report(), garment="#336699")
