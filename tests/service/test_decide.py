"""Deciding: what is urgent first, nothing twice, nothing past its attempts, no more than there are workers."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from filmhand.intake.listing import Entry, EntryKind, Fingerprint
from filmhand.intake.ticket import Ticket
from filmhand.journal.records import Expected, JobId, JobRole
from filmhand.journal.states import JobStage, SheetStage
from filmhand.rules import RuleFile
from filmhand.service import actions, pauses
from filmhand.service.closing import Waiting
from filmhand.service.decide import CLAIMS_AT_ONCE, Mode, View, decide
from some_records import a_job, a_sheet

NOW = datetime(2031, 5, 4, 22, 0, 30, tzinfo=UTC)
RULE = RuleFile.parse('title = "t"\n[gang.close]\nafter = "45 min"', Path("dark.toml"))

_job = partial(a_job, at=NOW)
_sheet = partial(a_sheet, at=NOW)


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
    jobs = tuple(_job(f"j{n}", seq=n) for n in range(5))
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
    sheet, waiting = _sheet(), {"dark-1": Waiting((("j1", 1), ("j1", 2)), NOW, 0)}
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
    young = {"dark-1": Waiting((("j1", 1), ("j1", 2)), NOW - timedelta(minutes=44), 0)}
    old = {"dark-1": Waiting((("j1", 1), ("j1", 2)), NOW - timedelta(minutes=45), 0)}
    assert _decide(_view(sheets=(sheet,), waiting=young)) == ()
    assert [type(action) for action in _decide(_view(sheets=(sheet,), waiting=old))] == [actions.LayOut]


def test_a_sheet_that_is_due_does_not_wait_for_artwork_that_keeps_coming() -> None:
    """However much of it there is: a sealed sheet goes first, then one that its rule closes now, then artwork."""
    sealed, due = _sheet(0, stage=SheetStage.SEALED), _sheet()
    waiting = {"dark-1": Waiting((("j0", 1),), NOW - timedelta(hours=1), 0)}
    jobs = tuple(_job(f"j{n}", seq=n) for n in range(500))
    decided = _decide(_view(sheets=(due, sealed), waiting=waiting, jobs=jobs, free_workers=3))
    assert [type(action) for action in decided] == [actions.MakeSheet, actions.LayOut, actions.Prepare]


def test_rush_orders_are_prepared_first() -> None:
    """Among each other, and behind them, oldest first."""
    rush = Ticket(rush=True)
    jobs = (_job("j1", seq=1), _job("j2", seq=2, ticket=rush), _job("j3", seq=3), _job("j4", seq=4, ticket=rush))
    decided = _decide(_view(jobs=jobs, free_workers=4))
    assert [action.job.id for action in decided if isinstance(action, actions.Prepare)] == ["j2", "j4", "j1", "j3"]


def test_answers_begin_no_work() -> None:
    """The command line's answers claim nothing, deliver nothing, start no child."""
    held, rejecting = _job(stage=JobStage.HELD), _job("j2", stage=JobStage.REJECTING)
    view = _view(
        jobs=(_job("j3"), held, rejecting),
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


def test_a_printer_without_its_file_waits() -> None:
    """Nor is work begun for a printer that was taken away; that of the others goes on."""
    theirs, ours = _job(printer="left"), _job("j2")
    assert _decide(_view(jobs=(theirs, ours), sheets=(_sheet(stage=SheetStage.SEALED, printer="left"),))) == (
        actions.Prepare(ours),
    )


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


def _arrival(name: str, kind: EntryKind = EntryKind.FILE, **facts: Any) -> actions.Arrival:
    return actions.Arrival(Entry("dark", name, kind, Fingerprint(1, 1, 1, 1)), **facts)


def _line(file: str, *, line: int = 2, order_list: str = "l1") -> Expected:
    return Expected(JobId(order_list), line, "dark", file, Ticket(copies=3))


LIST = _arrival("orders.csv", EntryKind.LIST)
NEEDS_TICKETS = {"dark": RuleFile.parse('title = "t"\n[ticket]\nneeded = true\nwait = "10 min"', Path("dark.toml"))}


def test_an_order_list_goes_before_the_artwork_that_it_may_name() -> None:
    """Its lines must be in the journal first; artwork of other hot folders does not wait, nor any once the list is paused."""
    elsewhere = actions.Arrival(Entry("light", "c.png", EntryKind.FILE, Fingerprint(1, 1, 1, 1)))
    view = _view(arrivals=(ARRIVAL, LIST, elsewhere), rules={"dark": RULE, "light": RULE})
    assert _decide(view) == (actions.Claim(LIST), actions.Claim(elsewhere))
    assert actions.Claim(ARRIVAL) in _decide(replace(view, paused=frozenset({actions.key_of(actions.Claim(LIST))})))


def test_artwork_takes_every_line_of_the_first_list_that_names_it() -> None:
    """In any case, composed or not (Unicode NFC), and without its ending; the second list's line is left for another file."""
    lines = (
        _line("Café.PNG", line=2),
        _line("other.png", line=3),
        _line("cafe\u0301.png", line=4),
        _line("café.png", order_list="l2"),
    )
    (claim,) = _decide(_view(arrivals=(_arrival("café.png"),), expected=lines))
    assert claim == actions.Claim(_arrival("café.png"), (lines[0], lines[2]))
    (claim,) = _decide(_view(arrivals=(_arrival("café.png"),), expected=(_line("CAFÉ"),)))
    assert isinstance(claim, actions.Claim)
    assert len(claim.lines) == 1


def test_artwork_waits_for_a_ticket_that_its_rule_needs() -> None:
    """Until a line names it, a ticket file lies beside it, or the rule's time has passed; in a batch until nothing settles."""
    ticket = Entry("dark", "b.png.ticket.toml", EntryKind.TICKET, Fingerprint(1, 1, 1, 1))
    for arrival, lines, claims in (
        (_arrival("b.png"), (), 0),
        (_arrival("b.png", waited=599.0), (), 0),
        (_arrival("b.png", waited=600.0), (), 1),
        (_arrival("b.png"), (_line("b.png"),), 1),
        (_arrival("b.png", ticket=ticket), (), 1),
    ):
        view = _view(arrivals=(arrival,), expected=lines, rules=NEEDS_TICKETS)
        assert len(_decide(view)) == claims, arrival
    view = _view(arrivals=(_arrival("b.png"),), rules=NEEDS_TICKETS)
    assert len(_decide(view, Mode.BATCH)) == 1
    assert len(_decide(replace(view, still_settling=1), Mode.BATCH)) == 0


def test_artwork_waits_for_a_list_that_settles_but_not_for_ever() -> None:
    """A list that someone keeps writing to does not stop the folder."""
    assert _decide(_view(arrivals=(_arrival("b.png", waited=899.0, awaits_list=True),))) == ()
    assert len(_decide(_view(arrivals=(_arrival("b.png", waited=900.0, awaits_list=True),)))) == 1


def test_a_ticket_alone_is_taken_up_when_its_time_is_over() -> None:
    """`ticket.wait` of the rule, 15 minutes where it says nothing."""
    lone = _arrival("b.png.ticket.toml", EntryKind.TICKET, waited=899.0)
    assert _decide(_view(arrivals=(lone,))) == ()
    assert _decide(_view(arrivals=(replace(lone, waited=900.0),))) == (actions.Claim(replace(lone, waited=900.0)),)


def test_a_list_ends_when_all_is_taken_or_time_is_over() -> None:
    """With what is missing, for the note; in a batch when nothing more can come."""
    job = _job("l1", stage=JobStage.EXPECTING, role=JobRole.ORDER_LIST)
    line = _line("b.png")
    assert _decide(_view(jobs=(job,), expected=(line,))) == ()
    assert _decide(_view(jobs=(job,))) == (actions.EndList(job, ()),)
    late = replace(job, since=NOW - timedelta(minutes=15))
    assert _decide(_view(jobs=(late,), expected=(line,))) == (actions.EndList(late, (line,)),)
    assert _decide(_view(jobs=(job,), expected=(line,)), Mode.BATCH) == (actions.EndList(job, (line,)),)
    still = _view(jobs=(job, _job()), expected=(line,))
    assert actions.EndList(job, (line,)) not in _decide(still, Mode.BATCH)


def test_a_line_is_followed_once() -> None:
    """Two files of names that a line fits arrive together: the first takes it, the second is ordered by its own name."""
    first, second = _arrival("a.png"), _arrival("A.PNG")
    line = _line("a.png")
    assert _decide(_view(arrivals=(first, second), expected=(line,))) == (actions.Claim(first, (line,)), actions.Claim(second))


def test_a_burst_is_claimed_bit_by_bit_in_the_order_it_came_in() -> None:
    """Row 18: so many at a time, the first first; what was not taken is there at the next look."""
    arrivals = tuple(_arrival(f"{n:05}.png", waited=3600.0) for n in range(5000))
    claimed = [action.arrival for action in _decide(_view(arrivals=arrivals)) if isinstance(action, actions.Claim)]
    assert tuple(claimed) == arrivals[:CLAIMS_AT_ONCE]
