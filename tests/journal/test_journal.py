"""The journal: moves that states.py allows and no others, copies counted, events that fold to the row."""

import sqlite3
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

from filmhand.errors import JournalError
from filmhand.gang.sheet import Placement, Spot
from filmhand.intake.listing import Fingerprint
from filmhand.journal import compact, jobs, schema, sheets
from filmhand.journal.connection import Connection
from filmhand.journal.jobs import New
from filmhand.journal.journal import Journal
from filmhand.journal.moves import Subject, attempt_deferred, attempt_failed, begin_attempt
from filmhand.journal.records import Folded, Job, JobId, SheetRecord, Source
from filmhand.journal.states import JobStage, SheetStage
from filmhand.preflight.finding import Finding, Severity
from filmhand.words import Words
from some_records import a_job

NOW = datetime(2031, 5, 4, 22, 0, tzinfo=UTC)
FILM = sheets.Film(600, 100)
FINDING = Finding("ground", Severity.HOLD, Words("It has a white ground."), Words("Send it without."))


def _claim(journal: Journal, name: str, copies: int = 1) -> JobId:
    job = a_job(name, copies=copies)
    jobs.claim(journal, New(job, (Source(job.id, "artwork", job.name, Fingerprint(2**63 + 1, 2**64 - 1, 10, 5), "d" * 64),)))
    return job.id


def _place(job: str, copy: int) -> Placement:
    return Placement(job, copy, 10, 10, 50, 50, 0)


def _open(journal: Journal) -> SheetRecord:
    (sheet,) = sheets.by_stage(journal, SheetStage.OPEN)
    return sheet


def _waiting(journal: Journal, name: str, copies: int = 1) -> JobId:
    job = _claim(journal, name, copies)
    jobs.prepared(journal, job, {"width_mm": 80.0}, findings=(), at=NOW)
    return job


@pytest.fixture
def journal(tmp_path: Path) -> Journal:
    """A new journal."""
    return Journal.open(tmp_path / "journal.sqlite")


def test_a_commit_is_on_disk_whatever_follows(journal: Journal) -> None:
    """WAL with synchronous FULL (2) and foreign keys, as SQLite reports it."""
    assert journal.rows("PRAGMA journal_mode")[0][0] == "wal"
    assert journal.rows("PRAGMA synchronous")[0][0] == 2
    assert journal.rows("PRAGMA foreign_keys")[0][0] == 1


def test_a_claimed_job_reads_back_as_written(journal: Journal) -> None:
    """Names of any bytes and identities beyond 63 bits survive."""
    name = "caf\udce9.png"
    job = a_job("a")
    odd = Job(**{**{key: getattr(job, key) for key in job.__dataclass_fields__}, "name": name})
    source = Source(odd.id, "artwork", name, Fingerprint(2**63 + 1, 2**64 - 1, 10, -5), "d" * 64)
    jobs.claim(journal, New(odd, (source,)))
    found = jobs.find(journal, "a")
    assert found is not None
    assert (found.name, found.seq, found.stage) == (name, 1, JobStage.CLAIMED)
    assert jobs.pending_sources(journal) == [("dark", source)]


def test_an_illegal_move_is_refused_and_nothing_of_it_stays(journal: Journal) -> None:
    """A claimed job cannot be released; the transaction leaves no trace."""
    job = _claim(journal, "a")
    events = journal.events(job)
    with pytest.raises(JournalError, match="cannot go from claimed to claimed"):
        jobs.released(journal, job, at=NOW)
    assert journal.events(job) == events


def test_no_copy_lies_on_two_live_sheets(journal: Journal) -> None:
    """The unique index refuses it, and the whole seal with it."""
    job = _waiting(journal, "a", copies=2)
    first = _open(journal)
    sheets.seal(journal, first, [_place(job, 1)], film=FILM, rule="r", at=NOW)
    with pytest.raises(sqlite3.IntegrityError):
        sheets.seal(journal, _open(journal), [_place(job, 2), _place(job, 1)], film=FILM, rule="r", at=NOW)
    assert [copies for _, copies in jobs.unplaced(journal, "dark")] == [(2,)]


def test_a_copy_in_pieces_counts_once_and_stays_on_one_sheet(journal: Journal) -> None:
    """Both pieces of the copy on one sheet: it is sheeted. Pieces on two sheets are refused, and the whole beside a piece."""
    job = _waiting(journal, "a", copies=2)
    pieces = [replace(_place(job, 1), part=part) for part in (1, 2)]
    sheets.seal(journal, _open(journal), pieces, film=FILM, rule="r", at=NOW)
    balance = sheets.balance(journal)
    assert (balance.on_sheets, balance.waiting, balance.holds) == (1, 1, True)
    for wrong in (replace(_place(job, 1), part=3), _place(job, 1)):
        with pytest.raises(sqlite3.IntegrityError, match="one sheet"):
            sheets.seal(journal, _open(journal), [_place(job, 2), wrong], film=FILM, rule="r", at=NOW)
    assert [copies for _, copies in jobs.unplaced(journal, "dark")] == [(2,)]


def test_a_sheet_reads_back_with_its_labels_pieces_and_film(journal: Journal) -> None:
    """Where a label lies, which piece it is, and why this film was chosen stay with the sheet."""
    job = _waiting(journal, "a")
    sheet = _open(journal)
    placed = (replace(_place(job, 1), part=1, label=Spot(1.5, 2, 30, 9, 90)), replace(_place(job, 1), part=2, x_mm=70.25))
    sheets.seal(journal, sheet, placed, film=sheets.Film(330, 120, "the cheapest"), rule="r", at=NOW)
    assert sheets.placements(journal, sheet.id) == placed
    sheets.staged(journal, _find(journal, sheet), {"digests": {}}, at=NOW)
    found = _find(journal, sheet)
    assert (found.film_width_mm, found.length_mm, found.facts) == (
        330,
        120,
        {"film": {"why": "the cheapest"}, "rule": "r", "digests": {}},
    )


def test_each_printer_has_an_open_sheet_of_its_own(journal: Journal) -> None:
    """Two printers share a hot folder: a job waits for its own printer's sheet, and asking closes both."""
    for name, printer in (("a", "left"), ("b", "right"), ("c", "left")):
        jobs.claim(journal, New(a_job(name, printer=printer)))
        jobs.prepared(journal, JobId(name), {}, findings=(), at=NOW)
    assert [(sheet.printer, sheet.place) for sheet in sheets.by_stage(journal, SheetStage.OPEN)] == [
        ("left", "dark/left/dark-20310504-0001"),
        ("right", "dark/right/dark-20310504-0002"),
    ]
    assert [job.id for job, _ in jobs.unplaced(journal, "dark", "left")] == ["a", "c"]
    assert sheets.ask_close(journal, "dark", at=NOW)
    assert all(sheet.close_asked for sheet in sheets.by_stage(journal, SheetStage.OPEN))


def test_what_does_not_fit_waits_for_a_further_sheet(journal: Journal) -> None:
    """The further sheet is opened in the same commit, and closed like the first if that was asked."""
    job = _waiting(journal, "a", copies=2)
    assert sheets.ask_close(journal, "dark", at=NOW)
    sheets.seal(journal, _open(journal), [_place(job, 1)], film=FILM, rule="r", at=NOW)
    found = jobs.find(journal, job)
    assert found is not None
    assert found.stage is JobStage.WAITING
    assert _open(journal).close_asked
    sheets.seal(journal, _open(journal), [_place(job, 2)], film=FILM, rule="r", at=NOW)
    found = jobs.find(journal, job)
    assert found is not None
    assert found.stage is JobStage.SHEETED
    assert sheets.by_stage(journal, SheetStage.OPEN) == []


def test_sheet_names_are_never_reused(journal: Journal) -> None:
    """A cancelled sheet's name is spent: the next sheet has another."""
    job = _waiting(journal, "a")
    first = _open(journal)
    sheets.seal(journal, first, [_place(job, 1)], film=FILM, rule="r", at=NOW)
    sheets.hold(journal, _find(journal, first), "trouble", at=NOW)
    sheets.cancelled(journal, first.id, at=NOW)
    assert _open(journal).name != first.name


def _find(journal: Journal, sheet: SheetRecord) -> SheetRecord:
    found = sheets.find(journal, sheet.name)
    assert found is not None
    return found


def test_a_journal_from_the_future_is_not_touched(tmp_path: Path) -> None:
    """A newer version's journal is refused with what to do."""
    with sqlite3.connect(tmp_path / "j") as connection:
        connection.execute("PRAGMA user_version = 99")
    with pytest.raises(JournalError, match="version 99"):
        Journal.open(tmp_path / "j")


def test_a_journal_of_before_is_upgraded_by_opening_and_not_by_looking(tmp_path: Path) -> None:
    """A placement of the second version is still there, whole and without a label; looking says what to do first."""
    path = tmp_path / "j"
    with sqlite3.connect(path) as connection:
        for number, step in enumerate(schema.STEPS[:2], 1):
            connection.executescript(f"{step} PRAGMA user_version = {number};")
        row = "'a', 1, 'dark', x'61', 'd', 1, 'sheeted', 1, '{}', '2031-05-04T22:00:00+00:00', '2031-05-04T22:00:00+00:00', ''"
        columns = "id, seq, folder, name, digest, size_bytes, stage, copies, ticket, arrived, since, rule_digest"
        connection.execute(f"INSERT INTO job ({columns}) VALUES ({row})")
        connection.execute(
            "INSERT INTO sheet (name, folder, stage, opened, since) VALUES"
            " ('dark-1', 'dark', 'sealed', '2031-05-04T22:00:00+00:00', '2031-05-04T22:00:00+00:00')"
        )
        connection.execute("INSERT INTO placement VALUES ('a', 1, 1, 10, 20, 30, 40, 90, 1)")
    with pytest.raises(JournalError, match="older filmhand"):
        Journal.read_only(path)
    with Journal.open(path) as journal:
        (sheet,) = sheets.by_stage(journal, SheetStage.SEALED)
        assert sheets.placements(journal, sheet.id) == (Placement("a", 1, 10, 20, 30, 40, 90),)
        assert (sheet.printer, sheet.place) == ("", "dark/dark-1")
    with Journal.read_only(path) as journal:
        assert sheets.find(journal, "dark-1") is not None


def test_a_file_that_is_no_journal_is_refused(tmp_path: Path) -> None:
    """Rubbish under the journal's name is said, not overwritten."""
    (tmp_path / "j").write_bytes(b"rubbish" * 200)
    with pytest.raises(JournalError, match="cannot be opened"):
        Journal.open(tmp_path / "j")
    assert (tmp_path / "j").read_bytes() == b"rubbish" * 200


class Night(RuleBasedStateMachine):
    """Any order of legal happenings keeps the copies in balance, and each job's events fold to its row."""

    def __init__(self) -> None:
        super().__init__()
        connection = sqlite3.connect(":memory:", isolation_level=None, factory=Connection)
        schema.upgrade(connection)
        self.journal = Journal(connection)
        self.count = 0
        self.ordered = 0
        self.at = NOW

    def _tick(self) -> datetime:
        self.at += timedelta(seconds=1)
        return self.at

    def _jobs(self, stage: JobStage) -> list[Job]:
        return jobs.by_stage(self.journal, stage)

    @initialize()
    def begin(self) -> None:
        """At least one job."""
        self.arrive(2)

    @rule(copies=st.integers(1, 4))
    def arrive(self, copies: int) -> None:
        """A file is claimed."""
        self.count += 1
        self.ordered += copies
        _claim(self.journal, f"j{self.count}", copies)

    @precondition(lambda self: self._jobs(JobStage.CLAIMED))
    @rule(data=st.data(), end=st.sampled_from(["prepared", "hold", "reject", "fail", "defer"]))
    def work(self, data: st.DataObject, end: str) -> None:
        """An attempt is counted and ends one way or another."""
        job = data.draw(st.sampled_from(self._jobs(JobStage.CLAIMED)))
        begin_attempt(self.journal, Subject.job(job.id), at=self._tick())
        if end == "prepared":
            jobs.prepared(self.journal, job.id, {}, findings=(), at=self._tick())
        elif end == "fail":
            attempt_failed(self.journal, Subject.job(job.id), "it broke off", at=self._tick())
        elif end == "defer":
            attempt_deferred(self.journal, Subject.job(job.id), "the disk was full", at=self._tick())
        else:
            stage = JobStage.HOLDING if end == "hold" else JobStage.REJECTING
            found = replace(job, findings=(FINDING,))
            jobs.set_aside(self.journal, found, stage, place="x", at=self._tick())

    @rule()
    def file(self) -> None:
        """Whatever waits for filing is filed."""
        for job in jobs.by_stage(self.journal, *jobs.FILED):
            jobs.filed(self.journal, job, at=self._tick())

    @precondition(lambda self: self._jobs(JobStage.HELD))
    @rule(yes=st.booleans())
    def answer(self, yes: bool) -> None:
        """A person answers for a held job."""
        job = self._jobs(JobStage.HELD)[0]
        if yes:
            jobs.released(self.journal, job.id, at=self._tick())
        else:
            jobs.refused(self.journal, job.id, place="x", at=self._tick())

    @rule(age_s=st.integers(0, 20), most=st.integers(1, 3))
    def forget(self, age_s: int, most: int) -> None:
        """What ended some while ago is removed; nothing else is, and every copy of it leaves the sums."""
        before = {job.id: job for job in jobs.by_stage(self.journal, *JobStage)}
        until = self.at - timedelta(seconds=age_s)
        compact.forget(self.journal, before=until, most_jobs=most, most_copies=3)
        left = {job.id for job in jobs.by_stage(self.journal, *JobStage)}
        gone = [job for name, job in before.items() if name not in left]
        assert all(job.stage in (JobStage.ARCHIVED, JobStage.REJECTED) and job.since < until for job in gone)
        assert len(gone) <= most
        assert max(before.values(), key=lambda job: job.seq).id in left
        self.ordered -= sum(job.copies for job in gone)
        for job in gone:
            assert not self.journal.events(job.id)
            assert not self.journal.rows("SELECT 1 FROM placement WHERE job = ?", job.id)
        assert not self.journal.rows("PRAGMA foreign_key_check")

    @precondition(lambda self: sheets.by_stage(self.journal, SheetStage.OPEN))
    @rule(most=st.integers(1, 5))
    def seal(self, most: int) -> None:
        """The open sheet takes the oldest waiting copies, up to what it holds."""
        waiting = [(job.id, copy) for job, copies in jobs.unplaced(self.journal, "dark") for copy in copies]
        if waiting:
            placed = [_place(job, copy) for job, copy in waiting[:most]]
            sheets.seal(self.journal, _open(self.journal), placed, film=FILM, rule="r", at=self._tick())

    @rule(end=st.sampled_from(["deliver", "doubt-yes", "doubt-no", "cancel"]))
    def hand_over(self, end: str) -> None:
        """The oldest sealed sheet goes on, is held and answered, or is cancelled."""
        for sheet in sheets.by_stage(self.journal, SheetStage.SEALED)[:1]:
            if end == "cancel":
                sheets.hold(self.journal, sheet, "trouble", at=self._tick())
                sheets.cancelled(self.journal, sheet.id, at=self._tick())
                return
            sheets.staged(self.journal, sheet, {}, at=self._tick())
            sheets.delivering(self.journal, sheet.id, boot="b", at=self._tick())
            if end != "deliver":
                sheets.hold(self.journal, _find(self.journal, sheet), "doubt", at=self._tick())
            if end == "doubt-yes":
                sheets.released(self.journal, _find(self.journal, sheet), at=self._tick())
                sheets.delivering(self.journal, sheet.id, boot="b", at=self._tick())
            sheets.delivered(self.journal, sheet.id, at=self._tick())

    @invariant()
    def copies_are_conserved(self) -> None:
        """Invariant 6, against a count kept here."""
        balance = sheets.balance(self.journal)
        assert balance.ordered == self.ordered
        assert balance.holds, balance

    @invariant()
    def events_fold_to_rows(self) -> None:
        """The row is only an index on the events."""
        for job in jobs.by_stage(self.journal, *JobStage):
            folded = Folded.of(self.journal.events(job.id))
            assert folded == Folded(job.stage, job.attempt, job.approved), job.id

    @invariant()
    def waiting_copies_have_an_open_sheet(self) -> None:
        """Nothing waits that no sheet will ever take."""
        if any(copies for _, copies in jobs.unplaced(self.journal, "dark")):
            assert sheets.by_stage(self.journal, SheetStage.OPEN)


TestNight = Night.TestCase
TestNight.settings = settings(max_examples=60, stateful_step_count=30, deadline=None)
