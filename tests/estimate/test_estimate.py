"""The estimate against numbers worked out by hand."""

import pytest

from filmhand.estimate.estimate import estimate
from filmhand.printer import Drop, Price, Printer

PRINTER = Printer(
    name="test",
    film_width="600 mm",
    resolution=(254, 508),  # dots of 0.1 mm × 0.05 mm
    drop_pl=Drop(default=7.0, W=12.0),
    speed_m2_h={4: 12.0, 6: 8.0},
    price=Price(ink_per_l=55.0, white_per_l=45.0, film_per_m2=1.9, powder_per_kg=14.0, powder_g_m2=45.0),
)
DOTS = {"C": [100_000_000.0], "M": [0.0], "Y": [50_000_000.0], "K": [0.0], "W": [200_000_000.0]}


def test_all_figures_by_hand() -> None:
    """2 m of 600 mm film with 0.8 m² of islands: each figure computed on paper from drop volumes, areas and prices."""
    result = estimate(DOTS, 160_000_000, length_mm=2000.0, printer=PRINTER, passes=None)
    assert result.ink_ml == pytest.approx({"C": 0.7, "M": 0.0, "Y": 0.35, "K": 0.0, "W": 2.4})  # dots × pl × 1e-9
    assert result.film_m2 == pytest.approx(1.2)
    assert result.covered_m2 == pytest.approx(0.8)
    assert result.powder_g == pytest.approx(36.0)  # 160e6 × 0.005 mm² = 0.8 m², × 45 g/m²
    assert result.minutes_by_passes == pytest.approx({4: 6.0, 6: 9.0})  # 1.2 m² at 12 and 8 m²/h
    assert result.minutes == pytest.approx(9.0)
    assert result.cost.ink == pytest.approx(0.05775)  # 1.05 ml at 55 a litre
    assert result.cost.white == pytest.approx(0.108)
    assert result.cost.film == pytest.approx(2.28)
    assert result.cost.powder == pytest.approx(0.504)
    assert result.cost.total == pytest.approx(2.94975)


def test_an_ink_with_a_price_of_its_own() -> None:
    """0.7 ml of cyan at 55 a litre and 0.35 ml of yellow at 100."""
    price = Price.model_validate({"ink_per_l": 55.0, "white_per_l": 45.0, "Y": 100.0})
    printer = PRINTER.model_copy(update={"price": price})
    result = estimate(DOTS, 160_000_000, length_mm=2000.0, printer=printer, passes=None)
    assert result.cost.ink == pytest.approx(0.7 * 0.055 + 0.35 * 0.1)


def test_a_second_white_is_white() -> None:
    """1e8 dots of W2 at white's 12 pl and price: 1.2 ml more of white, no colour ink."""
    result = estimate({**DOTS, "W2": [100_000_000.0]}, 0, length_mm=2000.0, printer=PRINTER, passes=None)
    assert result.ink_ml["W2"] == pytest.approx(1.2)
    assert result.cost.white == pytest.approx(3.6 * 0.045)
    assert result.cost.ink == pytest.approx(1.05 * 0.055)


def test_three_drop_sizes_each_with_its_volume() -> None:
    """1e6 dots each of 4, 7 and 12 pl are 23 µl."""
    printer = PRINTER.model_copy(update={"bits": 2, "drop_pl": Drop(default=(4.0, 7.0, 12.0))})
    result = estimate({"C": [1e6, 1e6, 1e6]}, 0, length_mm=1000.0, printer=printer, passes=4)
    assert result.ink_ml["C"] == pytest.approx(0.023)


def test_three_drop_sizes_where_only_the_full_drop_is_known() -> None:
    """A third, two thirds and all of 12 pl: 24 µl for 1e6 dots of each."""
    result = estimate({"W": [1e6, 1e6, 1e6]}, 0, length_mm=1000.0, printer=PRINTER, passes=4)
    assert result.ink_ml["W"] == pytest.approx(0.024)


def test_continuous_tone_counts_in_full_drops() -> None:
    """Equivalent full dots, a fraction too: 1,000,000.5 of them at the largest of three volumes."""
    printer = PRINTER.model_copy(update={"bits": 8, "drop_pl": Drop(default=(4.0, 7.0, 12.0))})
    result = estimate({"C": [1_000_000.5]}, 0, length_mm=1000.0, printer=printer, passes=4)
    assert result.ink_ml["C"] == pytest.approx(0.012000006)


@pytest.mark.parametrize(("passes", "minutes"), [(4, 6.0), (6, 9.0), (None, 9.0), (8, 12.0), (2, 3.0)])
def test_minutes_by_passes(passes: int | None, minutes: float) -> None:
    """As the table says, the slowest without a word, and in proportion to the nearest where the table lacks it."""
    assert estimate(DOTS, 0, length_mm=2000.0, printer=PRINTER, passes=passes).minutes == pytest.approx(minutes)


def test_no_speed_table_no_minutes() -> None:
    """What is not known is not made up."""
    printer = PRINTER.model_copy(update={"speed_m2_h": {}})
    result = estimate(DOTS, 0, length_mm=2000.0, printer=printer, passes=6)
    assert result.minutes is None
    assert result.to_json()["minutes"] is None


def test_json_has_the_tickets_keys() -> None:
    """The keys that a delivered sheet's ticket promises, and plain values."""
    values = estimate(DOTS, 160_000_000, length_mm=2000.0, printer=PRINTER, passes=4).to_json()
    assert {"ink_ml", "film_m2", "powder_g", "minutes", "cost"} <= values.keys()
    assert values["cost"] == {"total": 2.95, "ink": 0.06, "white": 0.11, "film": 2.28, "powder": 0.5}
    assert values["minutes_by_passes"] == {"4": 6.0, "6": 9.0}
