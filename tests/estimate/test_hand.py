"""The hand of a print against numbers worked out by hand."""

import pytest

from filmhand.estimate.estimate import estimate
from filmhand.estimate.hand import Hand, design_hand, sheet_hand, together
from filmhand.printer import Drop, Price, Printer, Solids
from filmhand.separation.film_sums import FilmSums

PRINTER = Printer(
    name="test",
    film_width="600 mm",
    resolution=(720, 720),
    drop_pl=Drop(default=7.0, W=12.0),
    solids_g_ml=Solids(default=0.2, W=0.45),
    price=Price(powder_g_m2=45.0),
    highlight_white=True,
)
NONE = {"C": 0.0, "M": 0.0, "Y": 0.0, "K": 0.0, "W": 0.0, "W2": 0.0}
# 100 × 100 mm at 720 dots an inch: (720 / 25.4)² = 803.5216 dots a mm², on 10,000 mm² 8,035,216 dots.
DOTS = 8_035_216.07


def flat(film: float, **ink: float) -> FilmSums:
    """A design of 100 × 100 mm in 1000 × 1000 pixels; film and inks as shares of it."""
    return FilmSums(1e6, film * 1e6, {**NONE, **{plane: share * 1e6 for plane, share in ink.items()}})


def hand(film: FilmSums, full: FilmSums | None = None) -> Hand:
    """Its hand; a pixel is 0.1 × 0.1 mm."""
    return design_hand(film, full or film, pixel_mm2=0.01, printer=PRINTER)


def test_a_flat_design_on_full_film() -> None:
    """Full cyan over full white on all of 100 cm²: ink, dry matter and powder reckoned on paper."""
    found = hand(flat(1, C=1, W=1))
    assert found.print_m2 == pytest.approx(0.01)
    assert found.coverage == pytest.approx(1)
    assert found.ink_ml["C"] == pytest.approx(DOTS * 7e-9)  # 0.0562 ml
    assert found.ink_ml["W"] == pytest.approx(DOTS * 12e-9)  # 0.0964 ml
    # Dry: 0.0562 ml × 0.2 + 0.0964 ml × 0.45 = 0.05464 g on 0.01 m², 5.464 g/m²; and 45 g/m² of powder.
    assert found.film_g_m2 == pytest.approx(45 + 5.464, abs=0.001)
    assert found.saved_percent == 0


def test_half_the_film_and_a_second_white() -> None:
    """Half the film has half the powder; the second white's drop, dry matter and saving are white's."""
    found = hand(flat(0.5, W=0.5, W2=0.1), flat(1, W=1, W2=0.4))
    assert found.coverage == pytest.approx(0.5)
    assert found.ink_ml["W2"] == pytest.approx(0.1 * DOTS * 12e-9)
    assert found.film_g_m2 == pytest.approx(22.5 + 0.6 * DOTS * 12e-9 * 0.45 / 0.01)
    assert found.full_film_g_m2 == pytest.approx(45 + 1.4 * DOTS * 12e-9 * 0.45 / 0.01)
    assert found.saved_percent == pytest.approx(100 * (1 - 0.6 / 1.4))


def test_weights_follow_the_printer_file() -> None:
    """No dry matter leaves the powder; no powder leaves the dry matter."""
    sums = flat(0.8, C=0.4, W=0.8)
    without = PRINTER.model_copy(update={"solids_g_ml": Solids(default=0, W=0)})
    assert design_hand(sums, sums, pixel_mm2=0.01, printer=without).film_g_m2 == pytest.approx(0.8 * 45)
    bare = PRINTER.model_copy(update={"price": Price(powder_g_m2=0)})
    dry = design_hand(sums, sums, pixel_mm2=0.01, printer=bare).film_g_m2
    assert dry == pytest.approx((0.4 * 7 * 0.2 + 0.8 * 12 * 0.45) * DOTS * 1e-9 / 0.01)


def test_three_drops_count_as_the_largest() -> None:
    """Amounts are shares of the largest drop's volume: half an amount of 14 pl is 7 pl a dot."""
    printer = PRINTER.model_copy(update={"bits": 2, "drop_pl": Drop(default=(4.0, 7.0, 14.0))})
    assert design_hand(flat(1, K=0.5), flat(1), pixel_mm2=0.01, printer=printer).ink_ml["K"] == pytest.approx(DOTS * 7e-9)


def test_more_than_full_film_is_said() -> None:
    """Artwork so faint that full film would leave it out: no saving is made up."""
    found = hand(flat(0.3, W=0.3), flat(0.2, W=0.2))
    assert found.saved_percent == pytest.approx(-50)
    assert hand(flat(0.3, W=0.3), flat(0)).saved_percent == 0  # of nothing there is no share


def test_several_together() -> None:
    """A large and a small design: millilitres add up, weight and coverage are means by area."""
    large, small = hand(flat(1, C=1), flat(1, C=1)), Hand(0.0025, 0.2, 10.0, 50.0, {"C": 0.01}, {"C": 0.02})
    both = together([large, small])
    assert both.print_m2 == pytest.approx(0.0125)
    assert both.coverage == pytest.approx((0.01 * 1 + 0.0025 * 0.2) / 0.0125)
    assert both.film_g_m2 == pytest.approx((0.01 * large.film_g_m2 + 0.0025 * 10) / 0.0125)
    assert both.ink_ml["C"] == pytest.approx(large.ink_ml["C"] + 0.01)


def test_a_sheet_by_its_dots() -> None:
    """Two copies: what was laid by the dots' count, full film by the designs; an old job among them, and it is unknown."""
    one = hand(flat(0.5, W=0.5), flat(1, W=1))
    laid = estimate({"W": [0.9 * DOTS]}, 0.96 * DOTS, length_mm=300, printer=PRINTER, passes=None)
    sheet = sheet_hand(laid, [one, one], printer=PRINTER)
    assert sheet is not None
    assert sheet.coverage == pytest.approx(0.48)
    assert sheet.ink_ml == pytest.approx({"W": 0.9 * DOTS * 12e-9})
    assert sheet.film_g_m2 == pytest.approx((0.9 * DOTS * 12e-9 * 0.45 + 0.96 * 0.01 * 45) / 0.02)
    assert sheet.saved_percent == pytest.approx(100 * (1 - 0.9 / 2))
    assert sheet_hand(laid, [one, None], printer=PRINTER) is None


def test_json_there_and_back() -> None:
    """A ticket's values make the same hand, to the digits that they have."""
    found = hand(flat(0.5, C=0.123456, W=0.5), flat(1, C=0.3, W=1))
    again = Hand.from_json(found.to_json())
    assert again.ink_ml == pytest.approx(found.ink_ml, rel=1e-5)
    assert again.film_g_m2 == pytest.approx(found.film_g_m2, abs=0.01)
    assert again.to_json() == found.to_json()
