"""The estimate, against figures worked out by hand."""

import pytest

from filmhand.estimate.estimate import estimate
from filmhand.printer import Printer

PRINTER = Printer.model_validate(
    {
        "name": "p",
        "film_width": "600 mm",
        "resolution": [720, 720],
        "drop_pl": {"default": 7.0, "W": 12.0},
        "speed_m2_h": {4: 12.0, 6: 8.0},
        "price": {"ink_per_l": 55, "white_per_l": 45, "film_per_m2": 1.9, "powder_per_kg": 14, "powder_g_m2": 45},
    }
)


def test_a_metre_of_film_by_hand() -> None:
    """10⁹ dots of 7 pl are 7 ml, of 12 pl 12 ml; 720² dots are a square inch, 645.16 mm²; 0.6 m² at 8 m²/h are 4.5 minutes."""
    found = estimate({"C": (1e9,), "W": (1e9,)}, 720 * 720, length_mm=1000, printer=PRINTER, passes=None)
    assert found.ink_ml == pytest.approx({"C": 7.0, "W": 12.0})
    assert found.film_m2 == pytest.approx(0.6)
    assert found.powder_g == pytest.approx(45 * 645.16e-6)
    assert found.minutes == pytest.approx(4.5)
    assert found.minutes_by_passes == pytest.approx({4: 3.0, 6: 4.5})
    assert found.cost.ink == pytest.approx(0.385)
    assert found.cost.white == pytest.approx(0.54)
    assert found.cost.film == pytest.approx(1.14)
    assert found.cost.total == pytest.approx(0.385 + 0.54 + 1.14 + 45 * 645.16e-6 * 0.014)


def test_three_drop_sizes_each_count_their_own() -> None:
    """1, 2 and 3 milliards of 3, 6 and 12 pl: 3 + 12 + 36 ml."""
    printer = Printer.model_validate({"name": "p", "film_width": "600 mm", "bits": 2, "drop_pl": {"default": [3, 6, 12]}})
    found = estimate({"C": (1e9, 2e9, 3e9)}, 0, length_mm=1000, printer=printer, passes=None)
    assert found.ink_ml["C"] == pytest.approx(51.0)


def test_no_speed_table_no_minutes() -> None:
    """Nothing is made up; nor for a number of passes that the table does not have."""
    bare = Printer.model_validate({"name": "p", "film_width": "600 mm"})
    assert estimate({}, 0, length_mm=1000, printer=bare, passes=None).minutes is None
    assert estimate({}, 0, length_mm=1000, printer=PRINTER, passes=5).minutes is None
    assert estimate({}, 0, length_mm=1000, printer=PRINTER, passes=4).minutes == pytest.approx(3.0)
