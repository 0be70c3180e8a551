"""What the forecast reads of a journal: what came, what was laid on film, and nothing written."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest

from filmhand.gang.sheet import Placement
from filmhand.intake.ticket import Ticket
from filmhand.journal import history, jobs, sheets
from filmhand.journal.jobs import New
from filmhand.journal.journal import Journal
from filmhand.journal.records import JobId, JobRole
from filmhand.journal.sheets import Film
from filmhand.journal.states import JobStage, SheetStage
from some_records import a_job

NOW = datetime(2031, 5, 4, 22, 0, tzinfo=UTC)
LONG_AGO = NOW - timedelta(days=100)


def prepared(journal: Journal, name: str, *, copies: int, due: datetime | None = None) -> JobId:
    """One of 100 × 200 mm that waits."""
    one = a_job(name, copies=copies, ticket=Ticket(copies=copies, due=due))
    jobs.claim(journal, New(one))
    jobs.prepared(journal, one.id, {"width_mm": 100.0, "height_mm": 200.0}, findings=(), at=NOW)
    return one.id


def seal(journal: Journal, *placements: Placement) -> str:
    """The open sheet, half a metre of 600 mm film; its name."""
    (sheet,) = sheets.by_stage(journal, SheetStage.OPEN)
    sheets.seal(journal, sheet, placements, film=Film(600.0, 500.0), rule="r", at=NOW)
    return sheet.name


def placed(job: str, copy: int, part: int = 0) -> Placement:
    """Somewhere."""
    return Placement(job, copy, 0, 0, 90, 190, 0, part)


@pytest.fixture
def journal(tmp_path: Path) -> Journal:
    """A new journal."""
    return Journal.open(tmp_path / "journal.sqlite")


def test_an_empty_journal_has_no_history(journal: Journal) -> None:
    """Nothing came, nothing was laid, nothing began."""
    assert history.begun(journal) is None
    assert history.came(journal, since=LONG_AGO) == ()
    assert history.laid(journal, since=LONG_AGO) == ()


def test_what_came_and_what_of_it_lies_on_no_sheet(journal: Journal) -> None:
    """Three copies, one of them on a sheet in two pieces, which is one copy; the size as it was prepared."""
    due = datetime(2031, 5, 6, 8, 0, tzinfo=timezone(timedelta(hours=2)))
    prepared(journal, "a", copies=3, due=due)
    jobs.claim(journal, New(a_job("b", copies=2)))
    seal(journal, placed("a", 1, 1), placed("a", 1, 2))
    first, second = history.came(journal, since=LONG_AGO)
    assert (first.copies, first.unplaced, first.size_mm, first.due) == (3, 2, (100.0, 200.0), due)
    assert (first.folder, first.printer, first.stage, first.arrived) == ("dark", "", JobStage.WAITING, NOW)
    assert (second.copies, second.unplaced, second.size_mm, second.due) == (2, 2, None, None)
    assert history.begun(journal) == NOW.date()


def test_a_sheet_and_what_lies_on_it(journal: Journal) -> None:
    """0.3 m² of film with three copies of 0.02 m², one of them in pieces; the first due time, whatever its zone."""
    early = datetime(2031, 5, 6, 8, 0, tzinfo=timezone(timedelta(hours=5)))  # 03:00 UTC
    late = datetime(2031, 5, 6, 4, 0, tzinfo=UTC)
    prepared(journal, "a", copies=2, due=late)
    prepared(journal, "b", copies=1, due=early)
    name = seal(journal, placed("a", 1), placed("a", 2), placed("b", 1, 1), placed("b", 1, 2))
    (sheet,) = history.laid(journal, since=LONG_AGO)
    assert (sheet.name, sheet.folder, sheet.printer, sheet.stage) == (name, "dark", "", SheetStage.SEALED)
    assert (sheet.copies, sheet.due) == (3, early)
    assert sheet.film_m2 == pytest.approx(0.3)
    assert sheet.print_m2 == pytest.approx(0.06)


def test_a_cancelled_sheet_is_no_history(journal: Journal) -> None:
    """Its copies wait again."""
    prepared(journal, "a", copies=2)
    name = seal(journal, placed("a", 1), placed("a", 2))
    sheet = sheets.find(journal, name)
    assert sheet is not None
    sheets.hold(journal, sheet, "trouble", at=NOW)
    sheets.cancelled(journal, sheet.id, at=NOW)
    assert history.laid(journal, since=LONG_AGO) == ()
    (one,) = history.came(journal, since=LONG_AGO)
    assert (one.copies, one.unplaced) == (2, 2)


def test_old_work_counts_only_while_it_waits(journal: Journal) -> None:
    """What came before the time asked for is left out, unless it is not on film yet; zones are compared as times."""
    old = a_job("old", copies=1, at=NOW - timedelta(days=60))
    jobs.claim(journal, New(old), New(replace(old, id=JobId("rejected"))))
    jobs.set_aside(journal, replace(old, id=JobId("rejected")), JobStage.REJECTING, place="p", at=NOW)
    since = (NOW - timedelta(days=56)).astimezone(timezone(timedelta(hours=-9)))
    assert [one.stage for one in history.came(journal, since=since)] == [JobStage.CLAIMED]
    assert len(history.came(journal, since=NOW - timedelta(days=61))) == 2
    assert history.begun(journal) == (NOW - timedelta(days=60)).date()


def test_only_artwork_is_printed(journal: Journal) -> None:
    """Containers and order lists are no demand."""
    jobs.claim(journal, New(a_job("list", role=JobRole.ORDER_LIST, stage=JobStage.EXPECTING)))
    assert history.came(journal, since=LONG_AGO) == ()


def test_a_journal_open_for_reading_is_enough(journal: Journal, tmp_path: Path) -> None:
    """While a daemon has it open for writing."""
    prepared(journal, "a", copies=1)
    seal(journal, placed("a", 1))
    with Journal.read_only(tmp_path / "journal.sqlite") as reader:
        assert len(history.came(reader, since=LONG_AGO)) == len(history.laid(reader, since=LONG_AGO)) == 1
