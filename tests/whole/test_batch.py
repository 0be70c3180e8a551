"""The main job as a person sees it: files dropped in a hot folder, a batch, and where everything lies afterwards."""

import json
import os
from importlib.resources import files
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import tifffile

from small_shop import filmhand, picture

WHITE_GROUND = (255, 255, 255, 255)


def _drop(shop: Path, name: str, data: bytes) -> None:
    (shop / "in" / "small" / name).write_bytes(data)


def _sheets(shop: Path) -> list[Path]:
    return sorted((shop / "out" / "small").iterdir())


def _ticket(sheet: Path) -> dict[str, object]:
    ticket: dict[str, object] = json.loads((sheet / "ticket.json").read_text("utf-8"))
    return ticket


def test_each_file_ends_in_exactly_one_place(shop: Path) -> None:
    """Good artwork is printed and archived, an opaque ground is held, a file cut short goes back; the hot folder is empty."""
    good, held, bad = picture(1), picture(2, ground=WHITE_GROUND), picture(3)[:-300]
    _drop(shop, "A1_40mm_x3.png", good)
    _drop(shop, "A2_40mm_x2.png", held)
    _drop(shop, "A3_40mm_x1.png", bad)
    said = filmhand("batch", shop)
    assert [path.name for path in (shop / "in" / "small").glob("[!.]*")] == []
    (archived,) = (path for path in (shop / "done").rglob("*.png"))
    assert archived.read_bytes() == good
    assert (shop / "held" / "small" / "A2_40mm_x2.png" / "A2_40mm_x2.png").read_bytes() == held
    rejected = shop / "rejects" / "small" / "A3_40mm_x1.png"
    assert (rejected / "A3_40mm_x1.png").read_bytes() == bad
    assert {"note.txt", "note.html", "note.json"} <= {path.name for path in rejected.iterdir()}
    assert "ordered 6: delivered 3, on sheets 0, waiting 0, held 2, rejected 1" in said
    assert list((shop / "out" / ".filmhand-staging").iterdir()) == []
    assert list((shop / ".filmhand" / "spool").glob("*")) == [shop / ".filmhand" / "spool" / _id(shop)]


def _id(shop: Path) -> str:
    """The held job's id, from its note."""
    note = json.loads((shop / "held" / "small" / "A2_40mm_x2.png" / "note.json").read_text("utf-8"))
    return str(note["job"])


def test_the_delivered_ticket_is_the_sheet(shop: Path) -> None:
    """ticket.json fits its schema; every copy is on it; the TIFFs have the size, the resolution and the dots that it states."""
    _drop(shop, "A1_40mm_x3.png", picture(1))
    filmhand("batch", shop)
    (sheet,) = _sheets(shop)
    ticket = _ticket(sheet)
    jsonschema.validate(ticket, json.loads((files("filmhand") / "schemas" / "sheet.schema.json").read_text("utf-8")))
    assert sorted(item["copy"] for item in ticket["placements"]) == [1, 2, 3]  # type: ignore[attr-defined]
    assert sorted(path.name for path in sheet.iterdir()) == sorted(
        [*(f"{sheet.name}_{ink}.tif" for ink in "CMYKW"), "operator.html", "operator.pdf", "preview.png", "ticket.json"]
    )
    white = tifffile.imread(sheet / f"{sheet.name}_W.tif")
    assert white.shape == (round(ticket["length_mm"] / 25.4 * 720), round(600 / 25.4 * 720))  # type: ignore[operator]
    # printer.toml of a new shop says 12 pl a dot of white: 10⁹ dots are 12 ml.
    # The ticket rounds to a thousandth of a millilitre.
    assert ticket["estimate"]["ink_ml"]["W"] == pytest.approx(white.sum() * 12e-9, abs=0.0005)  # type: ignore[index]


def test_the_hand_of_a_sheet(shop: Path) -> None:
    """Ticket, report and terminal say the same; what the designs were reckoned to take is what the dots came to, within 2 %.

    Left between them: edges and choke at the artwork's resolution here, at the dots' there. Film everywhere, so no small dots.
    """
    _drop(shop, "A1_120mm_x2.png", picture(1, size=(800, 700)))
    _drop(shop, "A2_90mm_x3.png", picture(2, size=(600, 500)))
    said = filmhand("batch", shop)
    (sheet,) = _sheets(shop)
    ticket: dict[str, Any] = _ticket(sheet)
    jsonschema.validate(ticket, json.loads((files("filmhand") / "schemas" / "sheet.schema.json").read_text("utf-8")))
    copies = [item["job"] for item in ticket["placements"]]
    assert len(copies) == 5
    assert {one["job"] for one in ticket["designs"]} == set(copies)
    reckoned = {ink: sum(copies.count(one["job"]) * one["ink_ml"][ink] for one in ticket["designs"]) for ink in "CMYKW"}
    laid = {ink: tifffile.imread(sheet / f"{sheet.name}_{ink}.tif").sum() * (12e-9 if ink == "W" else 7e-9) for ink in "CMYKW"}
    assert ticket["hand"]["ink_ml"] == pytest.approx(laid, rel=1e-4)
    for ink in "CMYW":  # K is not used, or hardly
        assert reckoned[ink] == pytest.approx(laid[ink], rel=0.02)
    area = sum(copies.count(one["job"]) * one["print_m2"] for one in ticket["designs"])
    grams = ticket["estimate"]["powder_g"] + 0.2 * sum(laid[ink] for ink in "CMYK") + 0.45 * laid["W"]
    assert ticket["hand"]["film_g_m2"] == pytest.approx(grams / area, rel=0.01)
    (report,) = (shop / "done").rglob("report-*.html")
    weight = f"{ticket['hand']['film_g_m2']:.0f} g/m²"
    assert weight in report.read_text("utf-8")
    assert f"Hand: {weight} of print" in said


def test_orders_over_a_greatest_length_go_on_further_sheets(shop: Path) -> None:
    """15 copies of 3 designs on sheets of at most 300 mm: each copy once, oldest first."""
    for number in range(3):
        _drop(shop, f"B{number}_120mm_x5.png", picture(number, size=(500, 400)))
    filmhand("batch", shop)
    sheets = _sheets(shop)
    assert len(sheets) > 1
    copies = [(item["order"], item["copy"]) for sheet in sheets for item in _ticket(sheet)["placements"]]  # type: ignore[attr-defined]
    assert sorted(copies) == [(f"B{number}", copy) for number in range(3) for copy in range(1, 6)]
    assert all(_ticket(sheet)["length_mm"] <= 300 for sheet in sheets)  # type: ignore[operator]


@pytest.mark.slow
def test_sixty_copies_of_twelve_designs_over_three_metres(shop: Path) -> None:
    """More film than a sheet's greatest length of 3 m: copies ordered are copies on sheets, each once, none longer than 3 m."""
    rule = shop / "rules" / "small.toml"
    rule.write_text(rule.read_text("utf-8").replace('max_length = "300 mm"', 'max_length = "3 m"'), "utf-8")
    for number in range(12):
        _drop(shop, f"C{number}_200mm_x5.png", picture(number, size=(800, 700)))
    assert "ordered 60: delivered 60" in filmhand("batch", shop)
    tickets = [_ticket(sheet) for sheet in _sheets(shop)]
    copies = sorted((item["order"], item["copy"]) for ticket in tickets for item in ticket["placements"])  # type: ignore[attr-defined]
    assert copies == sorted((f"C{number}", copy) for number in range(12) for copy in range(1, 6))
    assert len(tickets) >= 2
    assert all(ticket["length_mm"] <= 3000 for ticket in tickets)  # type: ignore[operator]


def test_a_released_job_is_printed_and_a_refused_one_goes_back(shop: Path) -> None:
    """By command; what would hold it no longer does; the held folder is gone."""
    _drop(shop, "yes_40mm_x1.png", picture(1, ground=WHITE_GROUND))
    _drop(shop, "no_40mm_x1.png", picture(2, ground=WHITE_GROUND))
    filmhand("batch", shop)
    ids = {
        name: json.loads((shop / "held" / "small" / f"{name}_40mm_x1.png" / "note.json").read_text("utf-8"))["job"]
        for name in ("yes", "no")
    }
    filmhand("release", shop, ids["yes"])
    filmhand("refuse", shop, ids["no"])
    assert sorted(path.name for path in (shop / "held" / "small").iterdir() if not path.name.startswith(".")) == [
        "refuse",
        "release",
    ]
    assert (shop / "rejects" / "small" / "no_40mm_x1.png" / "note.html").exists()
    said = filmhand("batch", shop)
    assert "ordered 2: delivered 1, on sheets 0, waiting 0, held 0, rejected 1" in said


def test_a_held_folder_moved_by_hand_is_an_answer(shop: Path) -> None:
    """Moving it into release/ does what the command does."""
    _drop(shop, "yes_40mm_x1.png", picture(1, ground=WHITE_GROUND))
    filmhand("batch", shop)
    held = shop / "held" / "small"
    (held / "yes_40mm_x1.png").rename(held / "release" / "yes_40mm_x1.png")
    assert "delivered 1" in filmhand("batch", shop)
    assert list((held / "release").iterdir()) == []


def test_strange_names_are_worked(shop: Path) -> None:
    """Bytes that are not UTF-8, a newline, a leading dash, markup: printed and archived, each under a harmless name."""
    for number, name in enumerate([b"caf\xe9.png", b"two\nlines.png", b"-rf.png", b"<script>.png", b"=cmd.png"]):
        (shop / "in" / "small" / os.fsdecode(name)).write_bytes(picture(number))
    said = filmhand("batch", shop)
    assert "ordered 5: delivered 5" in said
    assert len(list((shop / "done").rglob("*.png"))) == 5


def test_the_same_name_and_the_same_content_again(shop: Path) -> None:
    """Both are honoured; nothing is overwritten."""
    for _ in range(2):
        _drop(shop, "A1_40mm_x1.png", picture(1))
        filmhand("batch", shop)
    assert len(_sheets(shop)) == 2
    assert len(list((shop / "done").rglob("*.png"))) == 2


def test_a_ticket_file_comes_along(shop: Path) -> None:
    """Its copies count, and it leaves the hot folder with its artwork."""
    _drop(shop, "holiday.png", picture(1))
    (shop / "in" / "small" / "holiday.ticket.toml").write_text('copies = 4\norder = "R9"\nheight = "3 cm"', "utf-8")
    said = filmhand("batch", shop)
    assert "ordered 4: delivered 4" in said
    assert [path.name for path in (shop / "in" / "small").glob("[!.]*")] == []
    (sheet,) = _sheets(shop)
    assert {item["order"] for item in _ticket(sheet)["placements"]} == {"R9"}  # type: ignore[attr-defined]


def test_mistakes_in_words_are_said_in_a_sentence(shop: Path, tmp_path: Path) -> None:
    """Exit codes of errors.py; no traceback (the runner checks that)."""
    assert "There is no shop here" in filmhand("batch", tmp_path, code=5)
    assert "Nothing is held" in (filmhand("batch", shop) and filmhand("release", shop, "nobody", code=5))
    assert "already" in filmhand("new", shop, code=3)
    (shop / "rules" / "small.toml").write_text('title = "t"\n[gang]\ngab = "6 mm"', "utf-8")
    assert "Line 3, key gang.gab" in filmhand("batch", shop, code=3)
