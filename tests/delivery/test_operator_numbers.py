"""Numbers on the operator's sheet: in the order of picking, on the copies they are of, on a strip each."""

from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from shapely import affinity
from shapely.geometry import box

from delivery.operator_sheets import PRESS, colour_of, night, placement, ticket, warning, write_preview
from filmhand.delivery.operator.facts import MOST_BOXES, facts_of
from filmhand.delivery.operator.numbers import Box, numbered
from filmhand.delivery.operator.strips import Room, cut_into_strips
from filmhand.gang_rules import PressRules

ROOM = Room(122, 128, 3, 5)

boxes = st.tuples(st.floats(0, 500), st.floats(0, 3000), st.floats(5, 300), st.floats(5, 300))


@pytest.mark.parametrize("is_mirrored", [True, False])
def test_a_number_stands_on_its_copy(tmp_path: Path, is_mirrored: bool) -> None:
    """Each on the colour in which pillow drew that copy, and flipped it where the film is mirrored."""
    said = night(23, designs=4, side=90) | {"mirrored": is_mirrored}
    write_preview(tmp_path, said)
    drawn = {colour_of(place): item["job"] for place, item in enumerate(said["placements"])}
    with Image.open(tmp_path / "preview.png") as picture:
        found = [(picture.getpixel((round(one.spot[0]), round(one.spot[1]))), one.job) for one in numbered(said)]
    assert len({colour for colour, _ in found}) == 23
    assert all(drawn[colour] == job for colour, job in found)  # type: ignore[index]


def test_the_urgent_are_picked_first() -> None:
    """Rush before all, then what is due sooner, then by order, R9 before R10; work without an order last."""
    jobs: list[tuple[str, dict[str, Any]]] = [
        ("10", {}),
        ("9", {}),
        ("x", {"order": None}),
        ("3", {"due": "2031-03-15T18:00:00"}),
        ("2", {"due": "2031-03-14T18:00:00"}),
        ("7", {"rush": True}),
    ]
    placed = [placement(job, 1, (10, 10 + 100 * n, 80, 80), **more) for n, (job, more) in enumerate(jobs)]
    facts = facts_of(ticket(placed), PRESS)
    assert [one.job for one in facts.numbered] == ["7", "2", "3", "9", "10", "x"]
    assert [order.name for order in facts.orders] == ["R7", "R2", "R3", "R9", "R10", ""]
    assert [order.is_rush for order in facts.orders] == [True, False, False, False, False, False]
    assert facts.orders[1].due == "14 March 2031, 18:00"


def test_copies_of_a_design_are_numbered_along_the_film() -> None:
    """From its start, and from the left as the picture shows it: the film's right, for it is mirrored."""
    placed = [placement("1", n, place) for n, place in enumerate([(10, 500, 80, 80), (10, 10, 80, 80), (200, 10, 80, 80)], 1)]
    placed.insert(0, placement("2", 1, (400, 10, 80, 80)))
    found = numbered(ticket(placed))
    assert [(one.number, one.box.left, one.box.top) for one in found if one.job == "1"] == [
        (1, 320, 10),
        (2, 510, 10),
        (3, 510, 500),
    ]


def test_pieces_of_a_copy_share_its_number() -> None:
    """With a letter each; they are one copy to count."""
    pieces = [placement("1", copy, (10 + 100 * part, 100 * copy, 80, 60), part=part) for copy in (1, 2) for part in (1, 2)]
    facts = facts_of(ticket(pieces), PRESS)
    assert [one.text for one in facts.numbered] == ["1a", "1b", "2a", "2b"]
    assert facts.orders[0].lines[0].copies == 2
    assert facts.orders[0].lines[0].ticks == (1, 2)


def test_a_ring_is_not_numbered_on_what_lies_in_it() -> None:
    """Its number moves off the smaller copies within, and stays on its own box."""
    ring, inner = placement("1", 1, (100, 100, 300, 300)), placement("2", 1, (200, 200, 100, 100))
    one, other = numbered(ticket([ring, inner]))
    own, within = (box(*place) for place in ((200, 100, 500, 400), (300, 200, 400, 300)))
    assert own.contains(box(*one.spot, *one.spot).centroid)
    assert not within.contains(box(*one.spot, *one.spot).centroid)
    assert other.spot == (350, 250)


@given(st.lists(boxes, min_size=1, max_size=40), st.booleans(), st.integers(1, 3))
def test_every_copy_has_one_number(places: list[tuple[float, float, float, float]], is_mirrored: bool, pages: int) -> None:
    """From 1 without a gap, each within its own box and on one strip; strips follow one another and fit the page."""
    placed = [placement(str(n % 7), n, place) for n, place in enumerate(places)]
    length = max(place[1] + place[3] for place in places) + 1
    found = numbered(ticket(placed, width=800, length=length, mirrored=is_mirrored))
    assert sorted(one.number for one in found) == list(range(1, len(places) + 1))
    for one in found:
        assert one.box.left <= one.spot[0] <= one.box.left + one.box.width
        assert one.box.top <= one.spot[1] <= one.box.top + one.box.height
    cut = cut_into_strips(800, length, [one.box for one in found], room=ROOM._replace(pages=pages))
    assert sum(len(strip.holding(found)) for strip in cut.strips) == len(found)
    assert (cut.strips[0].top, cut.strips[-1].bottom) == (0, length)
    assert all(before.bottom == after.top for before, after in pairwise(cut.strips))
    assert cut.beside * pages == len(cut.strips)
    assert cut.beside * 800 * cut.scale + (cut.beside - 1) * ROOM.gap <= ROOM.width + 1e-6
    assert max(strip.bottom - strip.top for strip in cut.strips) * cut.scale <= ROOM.height - ROOM.foot + 1e-6


def test_a_strip_ends_between_copies() -> None:
    """Where there is a gap near the wanted cut, it goes through that and through no copy."""
    copies = [Box(10, top, 580, 240) for top in range(10, 3900, 250)]
    cut = cut_into_strips(600, 4010, copies, room=ROOM)
    assert len(cut.strips) > 1
    assert not [1 for strip in cut.strips[1:] for copy in copies if copy.top < strip.top < copy.top + copy.height]


@pytest.mark.parametrize("turn", [0, 90, 180, 270, 13, 30, 60, 120, 200])
def test_a_size_is_that_of_the_upright_picture(turn: float) -> None:
    """Taken back from the box that shapely finds around the turned picture."""
    left, top, right, bottom = affinity.rotate(box(0, 0, 210, 70), turn).bounds
    placed = placement("1", 1, (0, 0, right - left, bottom - top), rotation_deg=turn)
    assert facts_of(ticket([placed]), PRESS).orders[0].lines[0].size == "210\xa0×\xa070\xa0mm"


def test_at_half_a_right_angle_a_size_is_a_bound() -> None:
    """There the box tells only width and height together."""
    left, top, right, bottom = affinity.rotate(box(0, 0, 210, 70), 45).bounds
    placed = placement("1", 1, (0, 0, right - left, bottom - top), rotation_deg=45)
    assert facts_of(ticket([placed]), PRESS).orders[0].lines[0].size == "≤\xa0198\xa0×\xa0198\xa0mm"


def test_many_copies_are_counted_rather_than_ticked() -> None:
    """A box each up to the limit, then none; the numbers are said in runs."""
    few, many = (facts_of(night(count, designs=1, side=20), PRESS).orders[0].lines[0] for count in (MOST_BOXES, MOST_BOXES + 1))
    assert few.ticks == tuple(range(1, MOST_BOXES + 1))
    assert (many.ticks, many.numbers) == ((), f"1–{MOST_BOXES + 1}")


def test_copies_on_other_sheets_are_told() -> None:
    """So that nobody looks for them here."""
    placed = [placement("1", copy, (10, 90 * copy, 80, 80), copies=12) for copy in (4, 5)]
    line = facts_of(ticket(placed), PRESS).orders[0].lines[0]
    assert (line.copies, line.elsewhere, line.numbers) == (2, 10, "1–2")


def test_warnings_name_their_copies() -> None:
    """Notes are left out, for there is nothing to look at twice."""
    said = night(9, designs=3)
    said["findings"] = [warning("102"), warning("101", "Soft {edges}"), {**warning("100"), "severity": "note"}]
    remarks = facts_of(said, PRESS).remarks
    assert [(one.message, one.numbers) for one in remarks] == [("Soft {edges}", "4–6"), ("Lines are thin", "7–9")]


def test_figures_are_those_of_the_ticket() -> None:
    """What it does not know is left out."""
    said = night(5, designs=2)
    told = {one.label: one.value.replace("\xa0", " ") for one in facts_of(said, PRESS).figures}
    assert told.pop("film") == "600 mm × 0.11 m"
    assert told == {"film area": "0.06 m²", "copies": "5", "designs": "2", "printing": "12 min", "powder": "31 g"}
    said |= {"passes": 6, "estimate": {**said["estimate"], "minutes": None}}
    told = {one.label: one.value for one in facts_of(said, PressRules()).figures}
    assert told["passes"] == "6"
    assert "printing" not in told
