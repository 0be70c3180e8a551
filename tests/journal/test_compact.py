"""Forgetting what ended long ago: what must stay, how much a step does, what it gives back."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from functools import partial
from pathlib import Path

import pytest

from filmhand.gang.sheet import Placement
from filmhand.intake.listing import Fingerprint
from filmhand.intake.ticket import Ticket
from filmhand.journal import compact, jobs, sheets
from filmhand.journal.jobs import New
from filmhand.journal.journal import Journal
from filmhand.journal.records import Expected, JobId, JobRole, Source
from filmhand.journal.states import JobStage, SheetStage
from some_records import a_job

NOW = datetime(2031, 5, 4, 22, 0, tzinfo=UTC)
LONG_AGO = NOW - timedelta(days=500)
FILM = sheets.Film(600, 100)

_job = partial(a_job, at=LONG_AGO)


def _deliver(journal: Journal, *copies: tuple[str, int], at: datetime) -> None:
    (sheet,) = sheets.by_stage(journal, SheetStage.OPEN)
    placed = [Placement(job, copy, 10, 10, 50, 50, 0) for job, copy in copies]
    sheets.seal(journal, sheet, placed, film=FILM, rule="r", at=at)
    sheets.staged(journal, sheet, {}, at=at)
    sheets.delivering(journal, sheet.id, boot="b", at=at)
    sheets.delivered(journal, sheet.id, at=at)


def _printed(journal: Journal, name: str, *, copies: int = 1, at: datetime = LONG_AGO) -> None:
    """A job that came, was printed and archived at once."""
    jobs.claim(journal, New(_job(name, copies=copies, at=at)))
    jobs.prepared(journal, JobId(name), {}, findings=(), at=at)
    _deliver(journal, *((name, number + 1) for number in range(copies)), at=at)
    _file(journal, at)


def _file(journal: Journal, at: datetime) -> None:
    for job in jobs.by_stage(journal, *jobs.FILED):
        jobs.filed(journal, job, at=at)


def _names(journal: Journal) -> list[str]:
    return [str(job.id) for job in jobs.by_stage(journal, *JobStage)]


def _forget(journal: Journal, *, most_jobs: int = 50, most_copies: int = 5000) -> int:
    return compact.forget(journal, before=NOW - timedelta(days=400), most_jobs=most_jobs, most_copies=most_copies)


@pytest.fixture
def journal(tmp_path: Path) -> Journal:
    """A new journal."""
    return Journal.open(tmp_path / "journal.sqlite")


def test_the_old_goes_and_the_recent_stays(journal: Journal) -> None:
    """With its events, its places and its sheet; the sums come out before and after."""
    _printed(journal, "old", copies=3)
    _printed(journal, "new", at=NOW)
    assert sheets.balance(journal).ordered == 4
    while _forget(journal):
        pass
    assert _names(journal) == ["new"]
    balance = sheets.balance(journal)
    assert (balance.ordered, balance.delivered, balance.holds) == (1, 1, True)
    assert [sheet.id for sheet in sheets.by_stage(journal, *SheetStage)] == [2]
    assert not journal.rows("SELECT 1 FROM event WHERE job = 'old' OR sheet = 1")


def test_what_a_sheet_under_way_has_stays(journal: Journal) -> None:
    """One copy delivered long ago, the other on a sheet that is not: the job has not ended, nor has its neighbour's sheet."""
    for name in ("half", "ended"):
        jobs.claim(journal, New(_job(name, copies=2 if name == "half" else 1)))
        jobs.prepared(journal, JobId(name), {}, findings=(), at=LONG_AGO)
    _deliver(journal, ("half", 1), ("ended", 1), at=LONG_AGO)
    _file(journal, LONG_AGO)
    while _forget(journal):
        pass
    assert "half" in _names(journal)
    assert sheets.balance(journal).holds
    _deliver(journal, ("half", 2), at=NOW)
    assert sheets.balance(journal).holds


def test_what_others_refer_to_stays_until_they_went(journal: Journal) -> None:
    """A container after its parts; an artwork whose order list still waits for others; a source not removed yet."""
    jobs.claim(journal, New(_job("zip")))
    jobs.split(journal, JobId("zip"), New(_job("part", parent=JobId("zip"))), findings=(), at=LONG_AGO)
    line = Expected(JobId("list"), 1, "dark", "taker.png", Ticket())
    waits = replace(line, line=2)
    order_list = _job("list", role=JobRole.ORDER_LIST, stage=JobStage.EXPECTING)
    jobs.claim(journal, New(order_list, brings=(line, waits)))
    jobs.claim(journal, New(_job("taker"), takes=(line,)))
    source = Source(JobId("slow"), "artwork", "slow.png", Fingerprint(1, 2, 3, 4), "d" * 64)
    jobs.claim(journal, New(_job("slow"), (source,)))
    for name in ("taker", "slow"):
        jobs.set_aside(journal, _job(name), JobStage.REJECTING, place=name, at=LONG_AGO)
    _file(journal, LONG_AGO)
    _printed(journal, "newest", at=NOW)
    assert _forget(journal) == 0
    jobs.set_aside(journal, _job("part"), JobStage.REJECTING, place="part", at=LONG_AGO)
    jobs.spent(journal, JobId("list"), at=LONG_AGO)
    jobs.source_removed(journal, source, at=LONG_AGO)
    _file(journal, LONG_AGO)
    while _forget(journal):
        pass
    assert _names(journal) == ["newest"]
    assert not journal.rows("PRAGMA foreign_key_check")


def test_ages_are_true_across_zones(journal: Journal) -> None:
    """Written as local time with its offset: an hour past the limit in Auckland, an hour short of it in Honolulu."""
    limit = NOW - timedelta(days=400)
    for name, hours, zone in (("gone", -1, 12), ("stays", 1, -10), ("newest", 1, 0)):
        _printed(journal, name, at=(limit + timedelta(hours=hours)).astimezone(timezone(timedelta(hours=zone))))
    while _forget(journal):
        pass
    assert _names(journal) == ["stays", "newest"]


def test_a_step_is_bounded_by_jobs_and_by_copies(journal: Journal) -> None:
    """One job of more copies than that goes alone."""
    for name, copies in (("a", 9), ("b", 2), ("c", 2), ("d", 2), ("newest", 1)):
        _printed(journal, name, copies=copies)
    _forget(journal, most_copies=4)
    assert _names(journal) == ["b", "c", "d", "newest"]
    _forget(journal, most_copies=4)
    assert _names(journal) == ["d", "newest"]
    _printed(journal, "later")
    _forget(journal, most_jobs=1)
    assert _names(journal) == ["newest", "later"]


def test_numbers_of_jobs_and_sheets_are_not_used_again(journal: Journal) -> None:
    """All is old, and all but the newest goes: the next sheet has a name that none had."""
    for name in ("a", "b"):
        _printed(journal, name)
    before = {sheet.name for sheet in sheets.by_stage(journal, *SheetStage)}
    while _forget(journal):
        pass
    _printed(journal, "c")
    assert _names(journal) == ["b", "c"]
    assert sheets.by_stage(journal, *SheetStage)[-1].name not in before


def test_the_file_becomes_smaller(tmp_path: Path) -> None:
    """Free pages go back to the disk a few at a time, as `stat` says; SQLite's own check finds nothing."""
    with Journal.open(tmp_path / "j") as journal:
        for number in range(40):
            _printed(journal, f"job{number}", copies=20)
    before = (tmp_path / "j").stat().st_size
    with Journal.open(tmp_path / "j") as journal:
        while _forget(journal):
            journal.give_back(8)
        for _ in range(40):
            journal.give_back(8)
        assert journal.rows("PRAGMA freelist_count")[0][0] == 0
        assert journal.rows("PRAGMA integrity_check")[0][0] == "ok"
    assert (tmp_path / "j").stat().st_size < before / 1.5


def test_looking_for_what_is_due_reads_no_more_than_that(journal: Journal) -> None:
    """SQLite's own plan: by an index on the time, not by reading every job or every place."""
    seen: list[str] = []
    journal._connection.set_trace_callback(seen.append)
    _forget(journal)
    (query,) = [text for text in seen if "SELECT id, copies" in text]
    plan = " ".join(row["detail"] for row in journal.rows(f"EXPLAIN QUERY PLAN {query}"))
    assert "job_ended" in plan
    assert "SCAN" not in plan
