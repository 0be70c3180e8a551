"""Deciding: what is urgent first, nothing twice, nothing past its attempts, no more than there are workers."""

from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from filmhand.intake.listing import Entry, EntryKind, Fingerprint
from filmhand.intake.ticket import Ticket
from filmhand.journal.records import Job, JobId, SheetId, SheetRecord
from filmhand.journal.states import JobStage, SheetStage
from filmhand.rules import CloseRules, RuleFile
from filmhand.service import actions, pauses
from filmhand.service.closing import reason_to_close
from filmhand.service.decide import Mode, View, Waiting, decide

NOW = datetime(2031, 5, 4, 22, 0, 30, tzinfo=UTC)
RULE = RuleFile.parse('title = "t"\n[gang.close]\nafter = "45 min"', Path("dark.toml"))


def _job(**changes: Any) -> Job:
    facts: dict[str, Any] = {
        "id": JobId("j1"),
        "seq": 1,
        "folder": "dark",
        "name": "a.png",
        "digest": "d",
        "size_bytes": 1,
        "stage": JobStage.CLAIMED,
        "attempt": 0,
        "approved": False,
        "copies": 1,
        "ticket": Ticket(copies=1),
        "arrived": NOW,
        "since": NOW,
    }
    return Job(**{**facts, **changes})


def _sheet(**changes: Any) -> SheetRecord:
    facts: dict[str, Any] = {
        "id": SheetId(1),
        "name": "dark-1",
        "folder": "dark",
        "stage": SheetStage.OPEN,
        "attempt": 0,
        "close_asked": False,
        "opened": NOW,
        "since": NOW,
    }
    return SheetRecord(**{**facts, **changes})


def _view(**changes: Any) -> View:
    return View(**{"rules": {"dark": RULE}, "free_workers": 2, **changes})


def _decide(view: View, mode: Mode = Mode.DAEMON) -> tuple[actions.Action, ...]:
    return decide(view, now=NOW, mode=mode, attempts=3)


ARRIVAL = actions.Arrival(Entry("dark", "b.png", EntryKind.FILE, Fingerprint(1, 1, 1, 1)))


def test_nothing_to_do() -> None:
    """An empty shop asks for nothing."""
    assert _decide(_view()) == ()


def test_a_staged_sheet_goes_before_a_new_claim() -> None:
    """What is promised is handed over first."""
    staged = _sheet(stage=SheetStage.STAGED)
    assert _decide(_view(sheets=(staged,), arrivals=(ARRIVAL,))) == (actions.Deliver(staged), actions.Claim(ARRIVAL))


def test_no_more_work_than_workers() -> None:
    """Oldest first, up to the free workers."""
    jobs = tuple(_job(id=JobId(f"j{n}"), seq=n) for n in range(5))
    assert _decide(_view(jobs=jobs)) == (actions.Prepare(jobs[0]), actions.Prepare(jobs[1]))
    assert _decide(_view(jobs=jobs, free_workers=0)) == ()


def test_what_is_under_way_is_not_begun_again() -> None:
    """Nor is what failed a moment ago."""
    job = _job()
    key = actions.key_of(actions.Prepare(job))
    assert _decide(_view(jobs=(job,), busy=frozenset({key}))) == ()
    assert _decide(_view(jobs=(job,), paused=frozenset({key}))) == ()


def test_three_attempts_and_no_more() -> None:
    """A job whose attempts are spent is set aside, but not while its last one runs; a sheet likewise."""
    spent = _job(attempt=3)
    running = frozenset({actions.key_of(actions.Prepare(spent))})
    assert _decide(_view(jobs=(spent,))) == (actions.GiveUp(spent),)
    assert _decide(_view(jobs=(spent,), busy=running)) == ()
    sheet = _sheet(stage=SheetStage.SEALED, attempt=3)
    assert _decide(_view(sheets=(sheet,))) == (actions.HoldSheet(sheet),)


@pytest.mark.parametrize("stage", [JobStage.HOLDING, JobStage.REJECTING, JobStage.DELIVERED])
def test_filing_follows_at_once(stage: JobStage) -> None:
    """Whatever a crash left half filed is filed."""
    job = _job(stage=stage)
    assert _decide(_view(jobs=(job,), free_workers=0)) == (actions.FileAway(job),)


def test_a_batch_closes_when_nothing_more_comes() -> None:
    """Not while a file settles, is claimed, or is being prepared."""
    sheet, waiting = _sheet(), {"dark": Waiting((("j1", 1), ("j1", 2)), NOW, 0)}
    close = (actions.LayOut(sheet, "the batch ends"),)
    assert _decide(_view(sheets=(sheet,), waiting=waiting), Mode.BATCH) == close
    assert _decide(_view(sheets=(sheet,), waiting=waiting, still_settling=1), Mode.BATCH) == ()
    running = _job()
    busy = frozenset({actions.key_of(actions.Prepare(running))})
    assert _decide(_view(sheets=(sheet,), waiting=waiting, jobs=(running,), busy=busy), Mode.BATCH) == ()
    assert _decide(_view(sheets=(sheet,), waiting={}), Mode.BATCH) == ()


def test_a_daemon_closes_by_the_rule() -> None:
    """Here when the oldest copy has waited 45 minutes."""
    sheet = _sheet()
    young = {"dark": Waiting((("j1", 1), ("j1", 2)), NOW - timedelta(minutes=44), 0)}
    old = {"dark": Waiting((("j1", 1), ("j1", 2)), NOW - timedelta(minutes=45), 0)}
    assert _decide(_view(sheets=(sheet,), waiting=young)) == ()
    assert [type(action) for action in _decide(_view(sheets=(sheet,), waiting=old))] == [actions.LayOut]


def test_answers_begin_no_work() -> None:
    """The command line's answers claim nothing, deliver nothing, start no child."""
    held, rejecting = _job(stage=JobStage.HELD), _job(id=JobId("j2"), stage=JobStage.REJECTING)
    view = _view(
        jobs=(_job(id=JobId("j3")), held, rejecting),
        sheets=(_sheet(stage=SheetStage.STAGED),),
        arrivals=(ARRIVAL,),
        answers=((held, actions.Answer.RELEASE),),
    )
    assert _decide(view, Mode.ANSWERS) == (
        actions.AnswerJob(held, actions.Answer.RELEASE),
        actions.FileAway(rejecting),
    )


def test_a_folder_without_its_rule_waits() -> None:
    """A rule file that was taken away stops its folder's work and nothing else."""
    assert _decide(_view(rules={}, jobs=(_job(),), sheets=(_sheet(stage=SheetStage.SEALED),))) == ()


@pytest.mark.parametrize(
    ("rules", "oldest", "length_mm", "closes"),
    [
        (CloseRules(at=("22:00",)), NOW.replace(hour=21), 0, True),
        (CloseRules(at=("22:00",)), NOW, 0, False),
        (CloseRules(at=("23:00",)), NOW.replace(hour=21), 0, False),
        (CloseRules(at=("06:00",)), NOW - timedelta(days=1), 0, True),
        (CloseRules(length="3 m"), NOW, 3000, True),
        (CloseRules(length="3 m"), NOW, 2999, False),
        (CloseRules(), NOW - timedelta(days=9), 1e6, False),
    ],
)
def test_reasons_to_close(rules: CloseRules, oldest: datetime, length_mm: float, closes: bool) -> None:
    """By time of day once it has passed since the oldest copy came, and by length."""
    assert bool(reason_to_close(_sheet(), rules, oldest=oldest, length_mm=length_mm, now=NOW)) is closes


def test_pauses_grow_and_end() -> None:
    """2, 4, 8 … seconds, never more than five minutes; success forgets them."""
    waits, state = [], {}
    for _ in range(10):
        state = pauses.after_failure(state, "x", now=100)
        waits.append(state["x"].until - 100)
    assert waits == [2, 4, 8, 16, 32, 64, 128, 256, 300, 300]
    assert pauses.paused(state, now=399) == {"x"}
    assert pauses.paused(state, now=400) == frozenset()
    assert pauses.after_success(state, "x") == {}
