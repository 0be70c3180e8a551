"""Too little room on the disk: when it begins and ends, what is not done then, and whose fault it is not."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmhand.errors import MachineError
from filmhand.intake.listing import Entry, EntryKind, Fingerprint
from filmhand.intake.ticket import Ticket
from filmhand.journal import jobs
from filmhand.journal.journal import Journal
from filmhand.journal.moves import MOST_DEFERRED, Subject, begin_attempt
from filmhand.journal.records import Expected, Folded, Job, JobId, JobRole
from filmhand.journal.states import JobStage, SheetStage
from filmhand.rules import RuleFile
from filmhand.service import actions, failures
from filmhand.service.closing import Waiting
from filmhand.service.decide import Mode, View, decide, stopped_by_space
from filmhand.service.space import short_of
from filmhand.work.capped import Caps, Cause, Failed, run_capped
from some_records import a_job, a_sheet

NOW = datetime(2031, 5, 4, 22, 0, tzinfo=UTC)
RULE = RuleFile.parse('title = "t"\n[gang.close]\nafter = "1 s"', Path("dark.toml"))


@given(free=st.lists(st.integers(0, 2000), min_size=1), least=st.integers(0, 1000))
def test_it_begins_below_the_least_and_ends_a_tenth_above(free: list[int], least: int) -> None:
    """Whatever the free space does: short below it, not short from a tenth more on, and between as before."""
    before: tuple[str, ...] = ()
    for mib in free:
        now = short_of({"out": mib}, least, before)
        if mib < least:
            assert now == ("out",)
        elif mib >= least * 1.1:
            assert now == ()
        else:
            assert now == before
        before = now


def _job(name: str, stage: JobStage, **changes: Any) -> Job:
    return a_job(name, stage=stage, since=NOW - timedelta(hours=2), **changes)


def _arrival(name: str) -> actions.Arrival:
    return actions.Arrival(Entry("dark", name, EntryKind.FILE, Fingerprint(1, 1, 1, 1)))


FULL = View(
    arrivals=(_arrival("new.png"),),
    jobs=(_job("a", JobStage.CLAIMED), _job("b", JobStage.DELIVERED), _job("c", JobStage.REJECTING)),
    sheets=(a_sheet(1, stage=SheetStage.STAGED), a_sheet(2, stage=SheetStage.SEALED), a_sheet(3, stage=SheetStage.OPEN)),
    waiting={"dark-3": Waiting(((JobId("w"), 1),), datetime(2031, 5, 4, 20, 0, tzinfo=UTC), 0.0)},
    rules={"dark": RULE},
    free_workers=9,
)


def _decide(view: View) -> tuple[actions.Action, ...]:
    return decide(view, now=NOW, mode=Mode.DAEMON, attempts=3)


def test_nothing_is_begun_and_all_that_is_finished_goes_on() -> None:
    """With room all of it; without, the hand-over and the filing alone. With room again, all of it again."""
    begun = {actions.Claim, actions.Prepare, actions.MakeSheet, actions.LayOut}
    finished = {actions.Deliver, actions.FileAway}
    assert {type(action) for action in _decide(FULL)} == begun | finished
    short = replace(FULL, short_of_space=("out",))
    assert {type(action) for action in _decide(short)} == finished
    assert stopped_by_space(short, now=NOW, mode=Mode.DAEMON, attempts=3)
    assert not stopped_by_space(FULL, now=NOW, mode=Mode.DAEMON, attempts=3)
    idle = View(short_of_space=("out",))
    assert not stopped_by_space(idle, now=NOW, mode=Mode.DAEMON, attempts=3)


def test_a_list_does_not_end_while_its_artwork_may_not_be_claimed() -> None:
    """Nor in the instant in which it may again, though its time is long over."""
    waits = _job("list", JobStage.EXPECTING, role=JobRole.ORDER_LIST)
    line = Expected(waits.id, 1, "dark", "new.png", Ticket())
    view = View(arrivals=(_arrival("new.png"),), jobs=(waits,), expected=(line,), rules={"dark": RULE})
    assert _decide(replace(view, short_of_space=("spool",))) == ()
    assert _decide(view) == (actions.Claim(view.arrivals[0], (line,)),)
    assert _decide(replace(view, arrivals=())) == (actions.EndList(waits, (line,)),)


@pytest.mark.parametrize(
    ("cause", "is_short", "expected"),
    [
        (Cause.SPACE, False, True),
        (Cause.FAULT, True, True),
        (Cause.DIED, True, True),
        (Cause.FAULT, False, False),
        (Cause.TIME, True, False),
        (Cause.MEMORY, True, False),
        (Cause.REFUSED, True, False),
    ],
)
def test_whose_fault_it_is(cause: Cause, is_short: bool, expected: bool) -> None:
    """A short disk excuses what a short disk can do, and nothing else."""
    assert failures.is_for_space(Failed(cause, ""), is_short=is_short) is expected


def test_a_full_disk_is_known_by_what_the_system_says() -> None:
    """Writing to /dev/full gives ENOSPC (full(4))."""
    if not Path("/dev/full").exists():
        pytest.skip("there is no /dev/full here")
    outcome = run_capped(_write_to_a_full_disk, caps=Caps(2 << 30, 60))
    assert isinstance(outcome, Failed)
    assert outcome.cause is Cause.SPACE


def _write_to_a_full_disk() -> None:
    Path("/dev/full").write_bytes(b"x")


def test_attempts_for_want_of_room_do_not_count(tmp_path: Path) -> None:
    """But not for ever: what fills the disk time and again is set aside in the end."""
    with Journal.open(tmp_path / "j") as journal:
        jobs.claim(journal, jobs.New(_job("a", JobStage.CLAIMED)))
        subject, full = Subject.job(JobId("a")), Failed(Cause.SPACE, "")
        for _ in range(MOST_DEFERRED):
            assert begin_attempt(journal, subject, at=NOW) == 1
            with pytest.raises(MachineError, match="no room"):
                failures.record(journal, subject, full, is_short=False, at=NOW)
        for count in (1, 2):
            assert begin_attempt(journal, subject, at=NOW) == count
            failures.record(journal, subject, full, is_short=False, at=NOW)
        assert Folded.of(journal.events(JobId("a"))) == Folded(JobStage.CLAIMED, 2, False)
