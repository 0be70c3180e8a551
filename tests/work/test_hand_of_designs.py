"""The hand of a design from file to facts, against plain numpy on the planes that were kept and on a table for full film."""

import io
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import skimage.data
from numpy.typing import NDArray
from PIL import Image

from filmhand.colour.nominal import nominal_model
from filmhand.colour.printer_tone import printer_tone
from filmhand.estimate.hand import Hand
from filmhand.preflight.finding import Severity
from filmhand.separation.model import Separation
from filmhand.work.prepare import prepare
from work.plain_task import plain_task

# Of printer.toml: 7 pl a dot, 12 of white; 0.2 and 0.45 g/ml of dry matter; 45 g/m² of powder. The size is 60 × 60 mm.
DROPS = {"C": 7e-9, "M": 7e-9, "Y": 7e-9, "K": 7e-9, "W": 12e-9}
DOTS = (720 * 60 / 25.4) ** 2

Prepares = Callable[..., tuple[Hand, Separation]]


@pytest.fixture(scope="module")
def cache(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Tables are built once for all tests here."""
    return tmp_path_factory.mktemp("tables")


@pytest.fixture
def prepared(tmp_path: Path, cache: Path) -> Prepares:
    """Prepares pixels at 60 mm by a rule on black cotton that stops nothing, without choke; `tables`: further lines."""

    def make(pixels: NDArray[np.uint8], *tables: str) -> tuple[Hand, Separation]:
        file = io.BytesIO()
        Image.fromarray(pixels).save(file, "PNG")
        task = plain_task(tmp_path, file.getvalue(), cache=cache, garment="#1b1b1d", width="60 mm", tables=tables)
        made = prepare(task)
        assert made.verdict < Severity.HOLD, made.report
        return Hand.from_json(made.facts["hand"]), Separation.open(task.target)

    return make


def millilitres(separation: Separation, whole: tuple[int, int]) -> dict[str, float]:
    """By plain numpy: amounts by the printer's tones, times coverage, times the dots of a pixel of a picture of such a size."""
    curves = printer_tone(nominal_model(tuple("CMYK"))).curves
    coverage = separation.coverage / 255
    dots = DOTS / (whole[0] * whole[1])
    return {
        plane: float((curves[plane][tones] * coverage).sum()) * dots * DROPS[plane]
        for plane, tones in zip(separation.inks, separation.planes, strict=True)
    }


NO_CHOKE = '[underbase]\nchoke = "0 mm"\nisland_choke = "0 mm"\n'
PLAIN = f"{NO_CHOKE}tolerance = 0"


def test_a_black_heavy_photograph_on_black(prepared: Prepares) -> None:
    """The astronaut by full knockout: ink as numpy counts it on the planes kept, full film as it counts the plain rule's planes.

    The trade's rule of thumb is about half (common practice, no source): between a fifth and two thirds are saved.
    """
    photo = skimage.data.astronaut()
    hand, kept = prepared(photo, "[knockout]\nstrength = 1", f"{NO_CHOKE}tolerance = 1")
    ours = millilitres(kept, photo.shape[:2])
    _, full = prepared(photo, PLAIN)
    wanted = millilitres(full, photo.shape[:2])
    assert hand.ink_ml == pytest.approx(ours, rel=2e-3)  # a screen is as exact as its tile
    assert hand.full_film_ink_ml == pytest.approx(wanted, rel=2e-3)
    saved = 100 * (1 - sum(ours.values()) / sum(wanted.values()))
    assert hand.saved_percent == pytest.approx(saved, abs=0.1)
    assert 20 < saved < 67
    print(f"saved {saved:.1f} %, covered {100 * hand.coverage:.1f} %, {hand.film_g_m2:.1f} of {hand.full_film_g_m2:.1f} g/m²")
    print({plane: f"{ours[plane] / wanted[plane]:.3f}" for plane in ours})


def test_weight_and_coverage_of_the_photograph(prepared: Prepares) -> None:
    """Coverage is that of the whole print area, what the knockout took away about it too; weight is its dry ink and powder."""
    photo = skimage.data.astronaut()
    hand, kept = prepared(photo, "[knockout]\nstrength = 1", f"{NO_CHOKE}tolerance = 1")
    covered = kept.coverage.sum(dtype=float) / 255 / (photo.shape[0] * photo.shape[1])
    ink = millilitres(kept, photo.shape[:2])
    dry = 0.2 * sum(ink[plane] for plane in "CMYK") + 0.45 * ink["W"]
    assert hand.print_m2 == pytest.approx(0.0036)
    assert hand.coverage == pytest.approx(covered, abs=1e-4)
    assert hand.film_g_m2 == pytest.approx(45 * covered + dry / 0.0036, rel=1e-3)


def test_no_knockout_saves_nothing(prepared: Prepares) -> None:
    """Opaque artwork on film everywhere: exactly full film."""
    hand, _ = prepared(skimage.data.astronaut()[:200, :200], PLAIN)
    assert hand.saved_percent == 0
    assert hand.coverage == 1
    assert hand.film_g_m2 == hand.full_film_g_m2


def test_smoothed_edges_save_nothing(prepared: Prepares) -> None:
    """A disc with a smoothed edge, choked: the edge's own half pixels are no saving, within half a percent."""
    y, x = np.mgrid[:400, :400] - 199.5
    alpha = np.rint(255 * np.clip(150.5 - np.hypot(y, x), 0, 1)).astype(np.uint8)
    pixels = np.dstack([np.full((400, 400, 3), (200, 40, 60), np.uint8), alpha])
    hand, _ = prepared(pixels, "[underbase]\ntolerance = 0")
    assert abs(hand.saved_percent) < 0.5
    assert hand.print_m2 == pytest.approx(np.pi * 150**2 * (0.06 / 400) ** 2, rel=0.002)


def test_faint_artwork_takes_more_than_full_film(prepared: Prepares) -> None:
    """A glow of three tenths: full film would leave it out, so nothing is said to be saved by printing it."""
    pixels = np.full((120, 120, 4), (250, 240, 60, 77), np.uint8)
    pixels[40:60, 40:60, 3] = 255
    hand, _ = prepared(pixels, PLAIN)
    assert hand.saved_percent < 0
    assert hand.coverage == pytest.approx(1, abs=0.001)
