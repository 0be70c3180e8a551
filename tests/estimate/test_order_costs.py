"""Cost by order: an example reckoned on paper, and that the orders always come to the sheet."""

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmhand.estimate.estimate import Estimate, estimate
from filmhand.estimate.hand import Hand
from filmhand.estimate.orders import Design, apportioned, orders_json, orders_of, taken_m2
from filmhand.gang.sheet import Placement, Sheet
from filmhand.printer import Drop, Price, Printer

PRINTER = Printer(
    name="test",
    film_width="600 mm",
    resolution=(254, 508),  # dots of 0.1 mm × 0.05 mm
    drop_pl=Drop(default=7.0, W=12.0),
    speed_m2_h={4: 12.0, 6: 8.0},
    price=Price(ink_per_l=55.0, white_per_l=45.0, film_per_m2=1.9, powder_per_kg=14.0, powder_g_m2=45.0),
)
A = Design("R1", "a.png", {0: 50_000.0}, Hand(0.05, 1.0, 0, 0, {"C": 0.2, "W": 0.6}, {}))
B = Design("R2", "b.png", {0: 100_000.0}, Hand(0.08, 0.5, 0, 0, {"C": 0.4, "W": 0.8}, {}))


def placed(job: str, copy: int, part: int = 0) -> Placement:
    """Where it lies does not matter here."""
    return Placement(job, copy, 0, 0, 10, 10, 0, part)


def on_sheet(*copies: Placement) -> Sheet:
    """A metre of film."""
    return Sheet("s", 600.0, 1000.0, copies)


def laid_of(c_ml: float, w_ml: float, covered_m2: float, used_m2: float | None = None) -> Estimate:
    """What a metre of film took, from its dots: 7 pl of cyan, 12 pl of white, 0.005 mm² each."""
    dots = {"C": [c_ml / 7e-9], "W": [w_ml / 12e-9]}
    return replace(estimate(dots, covered_m2 * 1e6 / 0.005, length_mm=1000, printer=PRINTER, passes=6), used_m2=used_m2)


THREE = on_sheet(placed("a", 1), placed("b", 1), placed("a", 2))


def test_two_orders_by_hand() -> None:
    """Two copies of A, one of B, of twice the area, on 0.6 m²; 0.2 ml of the white is that of labels."""
    designs = {"a": A, "b": B}
    assert taken_m2(THREE, designs) == pytest.approx(0.2)
    laid = laid_of(1.0, 2.2, 0.14, used_m2=0.2)
    one, two = orders_of(THREE, designs, laid=laid, printer=PRINTER, beside_ml={"W": 0.2})
    assert (one.order, one.jobs, one.files, one.copies) == ("R1", ("a",), ("a.png",), 2)
    assert (two.order, two.jobs, two.files, two.copies) == ("R2", ("b",), ("b.png",), 1)
    # Cyan 1.0 ml as 2 × 0.2 to 0.4; white 2.0 ml as 2 × 0.6 to 0.8, and of the labels' 0.2 ml half each, by area.
    assert one.ink_ml == pytest.approx({"C": 0.5, "W": 1.3})
    assert two.ink_ml == pytest.approx({"C": 0.5, "W": 0.9})
    # Powder 0.14 m² × 45 g/m² = 6.3 g as 2 × 0.05 m² to 0.08 m² × 0.5.
    assert (one.powder_g, two.powder_g) == pytest.approx((4.5, 1.8))
    assert (one.used_m2, one.film_m2, two.used_m2, two.film_m2) == pytest.approx((0.1, 0.3, 0.1, 0.3))
    assert (one.minutes, two.minutes) == pytest.approx((2.25, 2.25))  # 0.6 m² at 8 m²/h are 4.5 min
    # 0.5 ml at 55 a litre, 1.3 ml at 45, 0.3 m² at 1.9, 4.5 g at 14 a kilogram; the other likewise.
    assert one.cost.total == pytest.approx(0.0275 + 0.0585 + 0.57 + 0.063)
    assert two.cost.total == pytest.approx(0.0275 + 0.0405 + 0.57 + 0.0252)


def test_the_same_as_the_ticket_says_it() -> None:
    """71.9 + 66.32 cents are 138.22: 72 and 66. 2.25 minutes twice are 2.3 and 2.2, for the sheet says 4.5."""
    laid = laid_of(1.0, 2.2, 0.14, used_m2=0.2)
    orders = orders_of(THREE, {"a": A, "b": B}, laid=laid, printer=PRINTER, beside_ml={"W": 0.2})
    one, two = orders_json(orders, laid)
    assert one == {
        "order": "R1",
        "jobs": ["a"],
        "files": ["a.png"],
        "copies": 2,
        "ink_ml": {"C": 0.5, "W": 1.3},
        "film_used_m2": 0.1,
        "film_m2": 0.3,
        "powder_g": 4.5,
        "minutes": 2.3,
        "cost": {"total": 0.72, "ink": 0.03, "white": 0.06, "film": 0.57, "powder": 0.06},  # ink 2.75 + 2.75 cents are 6 by round
    }
    assert two["cost"] == {"total": 0.66, "ink": 0.03, "white": 0.04, "film": 0.57, "powder": 0.03}
    assert two["minutes"] == 2.2
    sheet = laid.to_json()
    assert (sheet["film_m2"], sheet["film_used_m2"], sheet["film_wasted_m2"]) == (0.6, 0.2, 0.4)


def test_jobs_of_one_order_and_jobs_without() -> None:
    """Two files of one order are one line; files without an order stand for themselves, even one named like an order."""
    designs = {"a": A, "b": replace(B, order="R1"), "c": replace(B, order=None), "R1": replace(B, order=None, file="x.png")}
    sheet = on_sheet(*(placed(job, 1) for job in ("a", "c", "b", "R1")))
    orders = orders_of(sheet, designs, laid=laid_of(1, 1, 0.1), printer=PRINTER)
    assert [(one.order, one.jobs) for one in orders] == [("R1", ("a", "b")), (None, ("c",)), (None, ("R1",))]


def test_pieces_of_a_copy_are_one_copy() -> None:
    """A copy in two pieces beside a whole one of the same design: equal shares; one piece alone takes its part by area."""
    split = replace(A, taken_mm2={1: 10_000.0, 2: 40_000.0}, order="R2")
    laid = laid_of(1, 2, 0.1)
    whole, pieces = orders_of(
        on_sheet(placed("a", 1), placed("b", 1, 1), placed("b", 1, 2)), {"a": A, "b": split}, laid=laid, printer=PRINTER
    )
    assert pieces.copies == 1
    assert pieces.cost.total == pytest.approx(whole.cost.total)
    whole, piece = orders_of(on_sheet(placed("a", 1), placed("b", 1, 1)), {"a": A, "b": split}, laid=laid, printer=PRINTER)
    assert piece.ink_ml["W"] == pytest.approx(2 / 6)
    assert piece.film_m2 == pytest.approx(0.1)


def test_unknown_designs_and_inks_of_none() -> None:
    """Where a design was never reckoned, and of an ink that none takes, all goes by area."""
    laid = laid_of(1, 2, 0.1)
    first, second = orders_of(
        on_sheet(placed("a", 1), placed("b", 1)), {"a": A, "b": replace(B, hand=None)}, laid=laid, printer=PRINTER
    )
    assert second.ink_ml == pytest.approx({"C": 2 / 3, "W": 4 / 3})
    assert second.powder_g == pytest.approx(2 * first.powder_g)
    marks = replace(laid, ink_ml={**laid.ink_ml, "K": 0.3})
    first, _ = orders_of(on_sheet(placed("a", 1), placed("b", 1)), {"a": A, "b": B}, laid=marks, printer=PRINTER)
    assert first.ink_ml["K"] == pytest.approx(0.1)


def test_no_speeds_no_minutes() -> None:
    """What the sheet does not know, its orders do not."""
    laid = replace(laid_of(1, 1, 0.1), minutes=None)
    orders = orders_of(THREE, {"a": A, "b": B}, laid=laid, printer=PRINTER)
    assert [row["minutes"] for row in orders_json(orders, laid)] == [None, None]


def test_largest_remainders_as_in_textbooks() -> None:
    """The usual example of Hamilton's method, 100,000 votes for 10 seats (from memory), and 3 thirds of a cent."""
    votes = [47_000, 16_000, 15_800, 12_000, 6_100, 3_100]
    assert apportioned([vote / 10_000 for vote in votes], 10, 0) == [5, 2, 1, 1, 1, 0]
    assert apportioned([0.01 / 3] * 3, 0.01, 2) == [0.01, 0.0, 0.0]


amounts = st.floats(0, 50, allow_subnormal=False)
hands = st.one_of(
    st.none(),
    st.builds(
        lambda area, share, c, w: Hand(area, share, 0, 0, {"C": c, "W": w}, {}),
        st.floats(0, 2),
        st.floats(0, 1),
        amounts,
        amounts,
    ),
)
designs_of = st.lists(
    st.builds(
        Design,
        st.sampled_from([None, "R1", "R2", "R3"]),
        st.just("f.png"),
        st.dictionaries(st.integers(0, 2), st.floats(1, 1e6), min_size=3, max_size=3),
        hands,
    ),
    min_size=1,
    max_size=6,
)


@given(
    designs_of,
    st.lists(st.tuples(st.integers(0, 5), st.integers(1, 9), st.integers(0, 2)), min_size=1, max_size=12, unique=True),
    st.tuples(amounts, amounts, st.floats(0, 0.6)),
    amounts,
)
def test_orders_come_to_their_sheet(
    listed: list[Design], picked: list[tuple[int, int, int]], took: tuple[float, float, float], beside: float
) -> None:
    """Whatever lies there: exact figures by sum, printed figures to the last digit, each within one digit of the exact."""
    designs = {str(number): design for number, design in enumerate(listed)}
    sheet = on_sheet(*(placed(str(job % len(listed)), 10 * job + copy, part) for job, copy, part in picked))
    laid = laid_of(*took)
    laid = replace(laid, used_m2=taken_m2(sheet, designs))
    orders = orders_of(sheet, designs, laid=laid, printer=PRINTER, beside_ml={"W": beside})
    assert sum(one.cost.total for one in orders) == pytest.approx(laid.cost.total)
    assert sum(one.copies for one in orders) == len({(one.job, one.copy) for one in sheet.placements})
    rows, said = orders_json(orders, laid), laid.to_json()
    for row in rows:
        assert all(value >= 0 for value in flat(row).values())
    for name, value in flat(
        {key: said[key] for key in ("ink_ml", "film_used_m2", "film_m2", "powder_g", "minutes", "cost")}
    ).items():
        assert sum(Decimal(str(flat(row)[name])) for row in rows) == Decimal(str(value)), name
    for row, one in zip(rows, orders, strict=True):
        assert row["cost"]["total"] == pytest.approx(one.cost.total, abs=0.01 + 1e-9)
        assert row["powder_g"] == pytest.approx(one.powder_g, abs=0.01 + 1e-9)


def flat(row: dict[str, Any]) -> dict[str, float]:
    """The numbers of a row, those of its tables with the table's name before theirs."""
    numbers = {key: value for key, value in row.items() if isinstance(value, float)}
    return numbers | {f"{key}.{part}": value for key in ("ink_ml", "cost") for part, value in row[key].items()}
