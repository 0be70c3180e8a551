"""Films in stock: what waits goes on the width that comes cheapest, and the reason is said."""

from filmhand.gang.films import cheapest_film
from filmhand.gang.nest import Item
from filmhand.gang.outline import Outline
from filmhand.printer import Printer
from filmhand.rules import GangRules

PRINTER = Printer(name="test", film_width="600 mm", margin="10 mm")
STOCK = GangRules(films=("300 mm", "600 mm"), gap="0 mm", nest="box", rotate=(0,))


def _boxes(width_mm: float, height_mm: float, count: int) -> list[Item]:
    return [Item("job", copy, Outline.box(width_mm, height_mm)) for copy in range(1, count + 1)]


def test_a_single_narrow_column_goes_on_narrow_film() -> None:
    """One piece 280 wide fills 300 mm film; on 600 mm film half of the width would be paid for in vain."""
    chosen = cheapest_film(_boxes(280.0, 200.0, 1), printer=PRINTER, rules=STOCK)
    assert chosen.printer.film_width == 300.0
    assert chosen.why == "300 mm film, about 0.07 m², the cheapest in stock (600 mm: about 0.13 m²)"


def test_what_wastes_narrow_film_goes_on_the_wide() -> None:
    """Pieces 190 wide: one across of 300 mm (63 % used), three across of 600 mm (95 %)."""
    chosen = cheapest_film(_boxes(190.0, 200.0, 12), printer=PRINTER, rules=STOCK)
    assert chosen.printer.film_width == 600.0
    assert "300 mm: about" in chosen.why


def test_film_that_does_not_take_every_copy_is_not_chosen() -> None:
    """A piece wider than the narrow film settles it; without any film wide enough the widest is taken and that is said."""
    wide = [*_boxes(100.0, 100.0, 1), Item("wide", 1, Outline.box(400.0, 50.0))]
    chosen = cheapest_film(wide, printer=PRINTER, rules=STOCK)
    assert (chosen.printer.film_width, "300 mm is too narrow" in chosen.why) == (600.0, True)
    chosen = cheapest_film(_boxes(700.0, 50.0, 1), printer=PRINTER, rules=STOCK)
    assert (chosen.printer.film_width, "not every copy fits" in chosen.why) == (600.0, True)


def test_without_stock_there_is_no_choice() -> None:
    """The printer file's film, or the one width that the rule names; nothing to explain."""
    items = _boxes(100.0, 100.0, 3)
    assert cheapest_film(items, printer=PRINTER, rules=GangRules()).printer == PRINTER
    only = cheapest_film(items, printer=PRINTER, rules=GangRules(films=("330 mm",)))
    assert (only.printer.film_width, only.why) == (330.0, "")
