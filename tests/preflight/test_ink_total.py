"""Total ink of artwork that came as CMYK, averaged over 4 mm squares at the printed size."""

import io
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import tifffile

from filmhand.artwork.ink_map import InkMap
from filmhand.artwork.measured_ink import MOST_CELLS
from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.artwork.open import open_artwork
from filmhand.intake.ticket import Ticket
from filmhand.preflight import ink_total
from filmhand.preflight.finding import Finding, Severity
from filmhand.rules import Printer, Rule

RuleOf = Callable[..., Rule]


def _opened(inks: np.ndarray, folder: Path, printer: Printer, **options: object) -> Artwork:
    """CMYK (h×w×4 or 5 uint8, 255 = full) as a TIFF, opened."""
    file = io.BytesIO()
    tifffile.imwrite(file, inks, photometric="separated", planarconfig="contig", **options)
    path = folder / "inks"
    path.write_bytes(file.getvalue())
    artwork = open_artwork(path, ticket=Ticket.model_validate({"width": "50 mm"}), rule=Rule(title="t"), printer=printer)
    assert isinstance(artwork, Artwork)
    return artwork


def _check(artwork: Artwork, size: PrintedSize, rule: Rule, printer: Printer) -> tuple[Finding, ...]:
    return ink_total.check(artwork, size, rule=rule, printer=printer)


def _patch(side_px: int, *, ground: int = 51) -> np.ndarray:
    """500 × 400 of 4 × 20 % with a square of 4 × 100 % whose upper left corner is at column 200, row 100."""
    inks = np.full((400, 500, 4), ground, np.uint8)
    inks[100 : 100 + side_px, 200 : 200 + side_px] = 255
    return inks


def test_a_square_of_4_mm_counts_in_full(tmp_path: Path, printer: Printer, rule_of: RuleOf) -> None:
    """At 10 pixels a millimetre 40 pixels are the square: 400 %. Half that side: a quarter of 400 % and three of 80 %, 160 %."""
    rule = rule_of(preflight={"ink_total": {"warn": 100, "hold": 300}})
    for side_px, percent, severity in ((40, 400, Severity.HOLD), (60, 400, Severity.HOLD), (20, 160, Severity.WARN)):
        (found,) = _check(_opened(_patch(side_px), tmp_path, printer), PrintedSize(50, 40), rule, printer)
        assert found.value == pytest.approx(percent, abs=0.5)
        assert (found.severity, found.unit) == (severity, "%")
    (smaller,) = _check(_opened(_patch(40), tmp_path, printer), PrintedSize(25, 20), rule, printer)
    assert smaller.value == pytest.approx(160, abs=0.5)  # printed half as large, it is a quarter of the square


def test_the_place_is_marked(tmp_path: Path, printer: Printer, rule_of: RuleOf) -> None:
    """The box lies around the dense square (0.4 to 0.52 across, 0.25 to 0.4 down), a square's side wider at most."""
    rule = rule_of(preflight={"ink_total": {"warn": 300}})
    (found,) = _check(_opened(_patch(60), tmp_path, printer), PrintedSize(50, 40), rule, printer)
    (box,) = found.where
    assert 0.4 - 0.08 <= box.left <= 0.4 + 0.02
    assert 0.52 - 0.02 <= box.left + box.width <= 0.52 + 0.1
    assert 0.25 - 0.1 <= box.top <= 0.25 + 0.02
    assert 0.4 - 0.02 <= box.top + box.height <= 0.4 + 0.12


def test_transparency_takes_no_ink(tmp_path: Path, printer: Printer, rule_of: RuleOf) -> None:
    """Straight alpha of one half: half of 400 %. Nothing under alpha 0."""
    rule = rule_of(preflight={"ink_total": {"warn": 50}})
    for alpha, percent in ((128, 100 * 4 * 128 / 255), (255, 400)):
        inks = np.full((200, 200, 5), 255, np.uint8)
        inks[..., 4] = alpha
        (found,) = _check(_opened(inks, tmp_path, printer, extrasamples=["unassalpha"]), PrintedSize(50, 50), rule, printer)
        assert found.value == pytest.approx(percent, abs=0.5)
    inks[..., 4] = 0
    assert not _check(_opened(inks, tmp_path, printer, extrasamples=["unassalpha"]), PrintedSize(50, 50), rule, printer)


def test_only_cmyk_and_only_where_asked(tmp_path: Path, printer: Printer, rule_of: RuleOf) -> None:
    """No limit, no finding; artwork that came as RGB has no inks."""
    artwork = _opened(_patch(60), tmp_path, printer)
    assert not _check(artwork, PrintedSize(50, 40), rule_of(), printer)
    rule = rule_of(preflight={"ink_total": {"warn": 10}})
    assert not _check(replace(artwork, source_ink=None), PrintedSize(50, 40), rule, printer)


def test_after_cutting_the_places_still_fit(tmp_path: Path, printer: Printer, rule_of: RuleOf) -> None:
    """Artwork cut to the dense square alone: 400 % all over; cut to beside it: the rest."""
    rule = rule_of(preflight={"ink_total": {"warn": 50}})
    artwork = _opened(_patch(60), tmp_path, printer)
    ink = artwork.source_ink
    assert ink is not None
    for left, top, percent in ((200, 100, 400), (300, 200, 80)):
        cut = replace(artwork, pixels=artwork.pixels[top : top + 60, left : left + 60], source_ink=ink.after_cut(left, top))
        (found,) = _check(cut, PrintedSize(6, 6), rule, printer)
        assert found.value == pytest.approx(percent, abs=0.5)


def test_large_artwork_is_measured_on_a_coarse_grid(tmp_path: Path, printer: Printer) -> None:
    """5000 × 40 pixels: cells of 3 pixels, each their mean; the whole mean is kept (numpy's own)."""
    inks = np.random.default_rng(1).integers(0, 256, (40, 5000, 4), dtype=np.uint8)
    ink = _opened(inks, tmp_path, printer).source_ink
    assert isinstance(ink, InkMap)
    assert ink.cell_px == 3
    assert max(ink.percent.shape) <= MOST_CELLS
    expected = inks[3:6, 6:9].sum(axis=-1).mean() * 100 / 255
    assert ink.percent[1, 2] == pytest.approx(expected, rel=1e-5)
