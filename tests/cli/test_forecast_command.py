"""`filmhand forecast` as a person runs it, on shops whose journal was written by the journal's own verbs."""

import json
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from filmhand.gang.sheet import Placement
from filmhand.journal import jobs, sheets
from filmhand.journal.jobs import New
from filmhand.journal.journal import Journal
from filmhand.journal.records import JobId
from filmhand.journal.sheets import Film
from filmhand.journal.states import SheetStage
from small_shop import filmhand
from some_records import a_job

PRINTER = 'name = "a [small] printer"\nfilm_width = "600 mm"\nheads = 2\n[speed_m2_h]\n4 = 12.0\n6 = 8.0\n'
RULE = 'title = "t"\n[size]\nwidth = "100 mm"\n[gang]\ngap = "0 mm"\n'
NOW = datetime.now().astimezone()


@pytest.fixture
def root(tmp_path: Path) -> Path:
    """A shop with the one hot folder `dark`, to which nothing ever came."""
    root = tmp_path / "shop"
    (root / "rules").mkdir(parents=True)
    for name, text in (("printer.toml", PRINTER), ("rules/dark.toml", RULE), ("shop.toml", "printing_hours = 4\n")):
        (root / name).write_text(text, "utf-8")
    (root / ".filmhand").mkdir()
    return root


def claimed(journal: Journal, name: str, *, copies: int, days_ago: int = 0) -> JobId:
    """An artwork that came."""
    job = a_job(name, at=NOW - timedelta(days=days_ago), copies=copies)
    jobs.claim(journal, New(job))
    return job.id


def on_film(journal: Journal, name: str, *, metres: float, days_ago: int = 0) -> str:
    """A copy of 500 × 1000 mm on a sealed sheet of 600 mm film; the sheet's name."""
    job = claimed(journal, name, copies=1, days_ago=days_ago)
    jobs.prepared(journal, job, {"width_mm": 500.0, "height_mm": 1000.0}, findings=(), at=NOW)
    (sheet,) = sheets.by_stage(journal, SheetStage.OPEN)
    sheets.seal(journal, sheet, [Placement(job, 1, 0, 0, 500, 1000, 0)], film=Film(600.0, 1000 * metres), rule="r", at=NOW)
    return sheet.name


def delivered(journal: Journal, name: str) -> None:
    """Handed over just now."""
    sheet = sheets.find(journal, name)
    assert sheet is not None
    sheets.staged(journal, sheet, {}, at=NOW)
    sheets.delivering(journal, sheet.id, boot="b", at=NOW)
    sheets.delivered(journal, sheet.id, at=NOW)


def said(root: Path, *words: str) -> str:
    """What it prints, as one line without frames."""
    return " ".join("".join(" " if sign in "│┃━┏┓┡┩└┘─┴┬┼╇┳" else sign for sign in filmhand("forecast", root, *words)).split())


def for_programs(root: Path, *words: str) -> dict[str, Any]:
    """The one printer of what it prints for programs."""
    (printer,) = json.loads(filmhand("forecast", root, "--json", *words))["printers"]
    return dict(printer)


def ahead(**span: float) -> str:
    """A time of day so far from now."""
    return f"{datetime.now().astimezone() + timedelta(**span):%H:%M}"


def test_a_queue_that_ends_in_time_with_four_passes_only(root: Path) -> None:
    """24 m² take 2 h at 12 m²/h and 3 h at 8; the cut-off is two and a half hours ahead. The rule prints with the slowest."""
    with Journal.open(root / ".filmhand" / "journal.sqlite") as journal:
        on_film(journal, "a", metres=40)
    found = for_programs(root, "--by", ahead(hours=2.5))
    assert [(row["passes"], row["hours"], row["spare_hours"] > 0) for row in found["night"]["finishes"]] == [
        (4, 2.0, True),
        (6, 3.0, False),
    ]
    assert (found["night"]["most_passes"], found["night"]["by_rules"]["passes"]) == (4, {"dark": 6})
    text = said(root, "--by", ahead(hours=2.5))
    assert "24.00 m² of film wait: 1 sheet (24.00 m²)." in text
    assert "4 12 2:00 h" in text
    assert "The most passes that end in time: 4." in text
    assert "a [small] printer" in text
    assert "No number of passes ends in time" in said(root, "--by", ahead(hours=1.5))


def test_copies_on_no_sheet_by_what_the_sheets_used(root: Path) -> None:
    """A sheet of 1.2 m² holds 0.5 m² of print: 2.4 times. 50 copies, not prepared, taken as large as that: 60 m²."""
    with Journal.open(root / ".filmhand" / "journal.sqlite") as journal:
        delivered(journal, on_film(journal, "a", metres=2))
        claimed(journal, "b", copies=50)
    found = for_programs(root)
    assert [(row["copies"], row["film_m2"], row["is_assumed"]) for row in found["queue"]] == [(50, 60.0, True)]
    assert "Not prepared yet: 50 copies" in said(root)


def test_what_the_controller_has_not_taken(root: Path) -> None:
    """A delivered sheet counts as long as its folder lies in out/, unless one says that it always does."""
    with Journal.open(root / ".filmhand" / "journal.sqlite") as journal:
        name = on_film(journal, "a", metres=10)
        delivered(journal, name)
    folder = root / "out" / "dark" / name
    folder.mkdir(parents=True)
    assert for_programs(root)["night"]["film_m2"] == 6.0
    assert for_programs(root, "--ignore-out")["night"]["film_m2"] == 0
    folder.rmdir()
    assert for_programs(root)["night"]["film_m2"] == 0


def test_the_heads_of_the_coming_week(root: Path) -> None:
    """12 m² a day in 4 h are 3 m²/h; a head has 6 m²/h at four passes and 4 at six: one is enough of each."""
    with Journal.open(root / ".filmhand" / "journal.sqlite") as journal:
        for day in range(14, 0, -1):
            delivered(journal, on_film(journal, f"a{day}", metres=20, days_ago=day))
    found = for_programs(root)
    assert found["week"]["history_days"] == 14
    assert {(row["usual_m2"], row["busy_m2"], row["seen"]) for row in found["week"]["days"]} == {(12.0, 12.0, 2)}
    assert [(row["usual"], row["usual_heads"]) for row in found["heads_needed"]] == [(0.5, 1), (0.75, 1)]
    assert found["heads"] == 2
    text = said(root)
    assert "From 14 days of the journal" in text
    assert "4 6 1 (0.50) 1 (0.50) enough" in text


def test_an_empty_shop_says_so(root: Path) -> None:
    """No journal yet, and a journal in which nothing is."""
    for _ in range(2):
        text = said(root)
        assert "nothing waits to be printed" in text
        assert "Nothing has come yet" in text
        Journal.open(root / ".filmhand" / "journal.sqlite").close()
    assert for_programs(root)["queue"] == []


def test_a_running_daemon_is_not_disturbed(root: Path) -> None:
    """It has the journal open for writing; nothing is written."""
    with Journal.open(root / ".filmhand" / "journal.sqlite") as journal:
        on_film(journal, "a", metres=40)
        before = journal.rows("SELECT count(*), max(seq) FROM event")[0][:]
        with journal.commit() as cursor:
            cursor.execute("UPDATE job SET attempt = 1")
            assert "24.00 m²" in said(root)
        assert journal.rows("SELECT count(*), max(seq) FROM event")[0][:] == before


@pytest.mark.parametrize(("words", "code", "message"), [(("--by", "6"), 2, "22:00"), ((), 5, "There is no shop here")])
def test_what_cannot_be_done_is_refused(tmp_path: Path, root: Path, words: tuple[str, ...], code: int, message: str) -> None:
    """A time that is none; a folder without a shop."""
    assert message in filmhand("forecast", root if words else tmp_path / "nowhere", *words, code=code)
