"""What inks cost beside one another, from the printer file."""

from pathlib import Path

import pytest

from filmhand.colour.expense import Expense
from filmhand.errors import SettingsError
from filmhand.printer import Drop, Price, Printer, load_printer
from filmhand.rules import Ink, Spared

INKS = (Ink.CYAN, Ink.MAGENTA, Ink.YELLOW, Ink.BLACK, Ink.ORANGE, Ink.WHITE)
PRICE = Price.model_validate({"ink_per_l": 50.0, "white_per_l": 45.0, "K": 40.0, "O": 90.0})
PRINTER = Printer(
    name="test", film_width="600 mm", inks=INKS, drop_pl=Drop.model_validate({"default": [3, 7, 12], "K": 6.0}), price=PRICE
)


def test_prices_and_drops_by_letter() -> None:
    """An ink's own line counts before the general one; of three drop sizes the largest; white is no colour ink."""
    assert PRICE.of("W") == 45.0
    expense = Expense.of(PRINTER)
    assert expense.volumes == (12.0, 12.0, 12.0, 6.0, 12.0)
    assert expense.prices == (50.0, 50.0, 50.0, 40.0, 90.0)


def test_costs_are_worth_one_on_average() -> None:
    """By hand: volumes over their mean of 10.8; money is volume times price. Without prices money is volume."""
    expense = Expense.of(PRINTER)
    assert expense.costs(Spared.INK) == pytest.approx([12 / 10.8] * 3 + [6 / 10.8, 12 / 10.8])
    assert expense.costs(Spared.MONEY) == pytest.approx([600 / 624] * 3 + [240 / 624, 1080 / 624])
    free = Expense(expense.volumes, (0.0,) * 5)
    assert free.costs(Spared.MONEY) == pytest.approx(free.costs(Spared.INK))


@pytest.mark.parametrize("line", ["X = 3.0", "W = 3.0", "K = -1.0", 'K = "dear"'])
def test_a_wrong_price_is_refused(tmp_path: Path, line: str) -> None:
    """No ink of that letter, white beside its own key, less than nothing, no number."""
    file = tmp_path / "printer.toml"
    file.write_text(f'name = "x"\nfilm_width = "600 mm"\n[price]\n{line}\n', "utf-8")
    with pytest.raises(SettingsError):
        load_printer(file)
