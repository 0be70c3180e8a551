"""Filling a sheet: every copy is placed once or left, oldest first, inside the margins and the greatest length."""

from collections.abc import Sequence
from itertools import count
from time import monotonic

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from layouts import blob, disc, flag, items_of

from filmhand.errors import SettingsError
from filmhand.gang import fill
from filmhand.gang.clearance import Area, clearance_faults
from filmhand.gang.fill import Filled, estimate_length_mm, fill_sheet
from filmhand.gang.nest import Item, Layout, nest_boxes
from filmhand.gang.outline import Outline
from filmhand.printer import Printer
from filmhand.rules import GangRules, Nest

PRINTER = Printer(name="test", film_width="300 mm", margin="10 mm")
BLOBS = {f"blob{n}": blob(n) for n in range(3)}


def key(item: Item) -> tuple[str, int]:
    """Which copy it is."""
    return item.job, item.copy


def faults(filled: Filled, waiting: list[Item], rules: GangRules) -> tuple[str, ...]:
    """What is wrong with a filled sheet, in film coordinates."""
    outlines = {key(item): item.outline for item in waiting}
    return clearance_faults(
        filled.placements,
        [outlines[one.job, one.copy] for one in filled.placements],
        gap_mm=rules.gap,
        area=Area.of_film(PRINTER, filled.length_mm),
    )


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.tuples(st.floats(20, 270), st.floats(20, 380)), min_size=1, max_size=14), st.sampled_from([400.0, 700.0, 2000.0])
)
def test_every_copy_is_placed_once_or_left(sizes: list[tuple[float, float]], max_length: float) -> None:
    """Placed and left together are what waited; the sheet keeps margins, gap and greatest length."""
    waiting = [Item(f"job{n}", 1, Outline.box(w, h)) for n, (w, h) in enumerate(sizes)]
    rules = GangRules(nest=Nest.BOX, max_length=f"{max_length} mm")
    filled = fill_sheet(waiting, printer=PRINTER, rules=rules, seed=1, clock=monotonic)
    placed = [(one.job, one.copy) for one in filled.placements]
    assert sorted(placed + [key(item) for item in filled.left]) == sorted(key(item) for item in waiting)
    assert filled.left == tuple(item for item in waiting if key(item) not in placed)
    assert placed
    assert filled.length_mm <= max_length
    assert faults(filled, waiting, rules) == ()


def test_sheet_after_sheet_lays_out_an_order() -> None:
    """Copies on sheets = copies ordered, by outlines, each sheet within its greatest length and clear on pixels."""
    waiting = items_of(BLOBS, width_mm=100.0, copies=3)
    rules = GangRules(seconds=1, max_length="250 mm")
    left, seen = list(waiting), []
    while left:
        filled = fill_sheet(left, printer=PRINTER, rules=rules, seed=2, clock=monotonic)
        assert faults(filled, waiting, rules) == ()
        assert filled.length_mm <= 250.0
        seen += [(one.job, one.copy) for one in filled.placements]
        left = list(filled.left)
    assert sorted(seen) == sorted(key(item) for item in waiting)


@pytest.mark.parametrize("nesting", [Nest.BOX, Nest.OUTLINE])
def test_the_oldest_come_first(nesting: Nest) -> None:
    """What is placed is an unbroken row of the oldest where all copies are alike."""
    waiting = items_of({"blob": blob(5)}, width_mm=80.0, copies=30)
    filled = fill_sheet(
        waiting, printer=PRINTER, rules=GangRules(nest=nesting, seconds=1, max_length="400 mm"), seed=1, clock=monotonic
    )
    assert sorted(one.copy for one in filled.placements) == list(range(1, len(filled.placements) + 1))
    assert 0 < len(filled.left) < 30


def test_a_younger_copy_uses_room_that_an_older_cannot() -> None:
    """Two tall pieces do not fit together, a small younger one fits beside the first."""
    waiting = [
        Item("tall", 1, Outline.box(200.0, 300.0)),
        Item("tall", 2, Outline.box(200.0, 300.0)),
        Item("small", 1, Outline.box(60.0, 60.0)),
    ]
    filled = fill_sheet(waiting, printer=PRINTER, rules=GangRules(nest=Nest.BOX, max_length="330 mm"), seed=1, clock=monotonic)
    assert {(one.job, one.copy) for one in filled.placements} == {("tall", 1), ("small", 1)}


def test_outlines_bring_more_copies_on_a_sheet() -> None:
    """Pennants nest into each other: a sheet holds more of them by outline than by box."""
    waiting = items_of({"flag": flag()}, width_mm=130.0, copies=40)
    held = {
        nesting: len(
            fill_sheet(
                waiting,
                printer=PRINTER,
                rules=GangRules(nest=nesting, seconds=1, max_length="600 mm", gap="3 mm"),
                seed=1,
                clock=monotonic,
            ).placements
        )
        for nesting in Nest
    }
    assert held[Nest.OUTLINE] > held[Nest.BOX]


def test_only_the_turned_pose_fits_the_length() -> None:
    """A piece longer than the sheet lies across it."""
    waiting = [Item("long", 1, Outline.box(100.0, 270.0))]
    filled = fill_sheet(waiting, printer=PRINTER, rules=GangRules(max_length="150 mm"), seed=1, clock=monotonic)
    assert filled.placements[0].rotation_deg in (90, 270)
    assert (filled.placements[0].width_mm, filled.length_mm) == (pytest.approx(270.0), 120.0)


def test_a_copy_that_fits_no_sheet_is_left_and_said() -> None:
    """The film may have become narrower since preflight: the others are printed, and the note says so."""
    waiting = [Item("wide", 1, Outline.box(350.0, 350.0)), Item("small", 1, Outline.box(50.0, 50.0))]
    filled = fill_sheet(waiting, printer=PRINTER, rules=GangRules(), seed=1, clock=monotonic)
    assert filled.left == (waiting[0],)
    assert "1 copies fit no sheet" in filled.note
    with pytest.raises(SettingsError, match="fits a sheet"):
        fill_sheet(filled.left, printer=PRINTER, rules=GangRules(), seed=1, clock=monotonic)


def test_slant_rotations_keep_film_between_the_margins() -> None:
    """Turned by 45°, a disc's film stays between the margins; the empty corners of its box may reach past them."""
    waiting = items_of({"disc": disc()}, width_mm=120.0, copies=2)
    rules = GangRules(rotate=(45,), seconds=1)
    filled = fill_sheet(waiting, printer=PRINTER, rules=rules, seed=1, clock=monotonic)
    assert {one.rotation_deg for one in filled.placements} == {45.0}
    assert faults(filled, waiting, rules) == ()
    assert min(one.x_mm for one in filled.placements) < PRINTER.margin


def test_the_pieces_of_a_copy_go_on_a_sheet_together() -> None:
    """Three copies in two pieces each; a sheet that has room for five pieces takes four."""
    waiting = [Item("two", copy, Outline.box(270.0, 90.0), part) for copy in (1, 2, 3) for part in (1, 2)]
    filled = fill_sheet(
        waiting, printer=PRINTER, rules=GangRules(nest=Nest.BOX, max_length="500 mm", gap="0 mm"), seed=1, clock=monotonic
    )
    assert {(one.copy, one.part) for one in filled.placements} == {(1, 1), (1, 2), (2, 1), (2, 2)}
    assert {key(item) for item in filled.left} == {("two", 3)}
    assert len(filled.left) == 2


@pytest.mark.parametrize(("copies", "seconds"), [(40, 20.0), (400, 20.0 * 5 / 10)])
def test_where_many_sheets_wait_each_gets_less_time(copies: int, seconds: float, monkeypatch: pytest.MonkeyPatch) -> None:
    """Copies of 90 × 90 mm with half a gap round take 40 of a sheet's 400 mm; ten sheets share the time of five."""
    given_s: list[float] = []

    def nest(items: Sequence[Item], *, width_mm: float, rules: GangRules, seed: int) -> Layout:
        given_s.append(rules.seconds)
        return nest_boxes(items, width_mm=width_mm, rules=rules, seed=seed, packings=1)

    monkeypatch.setattr(fill, "nest", nest)
    waiting = [Item("box", copy, Outline.box(90.0, 90.0)) for copy in range(copies)]
    rules = GangRules(nest=Nest.BOX, seconds=20, gap="10 mm", max_length="1.86 m")
    fill_sheet(waiting, printer=PRINTER, rules=rules, seed=1, clock=monotonic)
    assert sum(given_s) == pytest.approx(seconds, rel=0.15)


@pytest.mark.parametrize(("each_s", "tries"), [(0.0, 3), (20.0, 1)])
def test_tries_end_with_the_time(each_s: float, tries: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """Three tries where they take no time; after one that took all of it, and found a layout, there is no other."""
    found: list[int] = []

    def nest(items: Sequence[Item], *, width_mm: float, rules: GangRules, seed: int) -> Layout:
        found.append(len(items))
        layout = nest_boxes(items, width_mm=width_mm, rules=rules, seed=seed, packings=1)
        return Layout(layout.placements, rules.max_length * (0.8 + 0.05 * len(found)))

    monkeypatch.setattr(fill, "nest", nest)
    waiting = [Item("box", copy, Outline.box(90.0, 90.0)) for copy in range(100)]
    rules = GangRules(nest=Nest.OUTLINE, seconds=20, gap="10 mm", max_length="1.86 m")
    ticks = count()
    fill_sheet(waiting, printer=PRINTER, rules=rules, seed=1, clock=lambda: next(ticks) * each_s)
    assert len(found) == tries


def test_one_copy_takes_its_own_height_and_two_margins() -> None:
    """60 mm of art and two margins of 10 mm: a sheet of 80 mm, the copy at the margins' corner."""
    filled = fill_sheet([Item("one", 1, Outline.box(60.0, 60.0))], printer=PRINTER, rules=GangRules(), seed=1, clock=monotonic)
    (only,) = filled.placements
    assert (only.x_mm, only.y_mm, filled.length_mm) == (10.0, 10.0, 80.0)


def test_the_estimate_of_length_is_near_what_filling_takes() -> None:
    """Within a sixth of the length that filling then finds, for boxes and outlines; 0 for nothing."""
    waiting = items_of(BLOBS, width_mm=90.0, copies=6)
    for nesting in Nest:
        rules = GangRules(nest=nesting, seconds=1, max_length="3 m")
        expected = estimate_length_mm(waiting, printer=PRINTER, rules=rules)
        filled = fill_sheet(waiting, printer=PRINTER, rules=rules, seed=1, clock=monotonic)
        assert expected == pytest.approx(filled.length_mm, rel=1 / 6)
    assert estimate_length_mm([], printer=PRINTER, rules=GangRules()) == 0.0
