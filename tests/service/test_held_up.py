"""What waits while a folder is offline, and what is ours already."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from filmhand.intake.listing import Entry, EntryKind, Fingerprint
from filmhand.intake.ticket import Ticket
from filmhand.journal.records import Expected, JobId, Source
from filmhand.journal.states import JobStage, SheetStage
from filmhand.service import actions
from filmhand.service.held_up import held_up, not_ours_yet
from some_records import a_job, a_sheet

NOW = datetime(2031, 5, 4, 22, 0, tzinfo=UTC)
PRINT = Fingerprint(1, 1, 1, 1)
ARRIVAL = actions.Arrival(Entry("dark", "a.png", EntryKind.FILE, PRINT))
SOURCE = Source(JobId("j1"), "artwork", "a.png", PRINT, "d")
JOB = a_job(stage=JobStage.EXPECTING, name="list.csv")
SHEET = a_sheet(stage=SheetStage.STAGED)
MISSING = (Expected(JobId("j1"), 1, "dark", "a.png", Ticket(copies=1)),)


@pytest.mark.parametrize(
    ("action", "places"),
    [
        (actions.RemoveSource("dark", SOURCE), {"in/dark"}),
        (actions.Claim(ARRIVAL), {"in/dark"}),
        (actions.EndList(JOB, MISSING), {"in/dark"}),
        (actions.EndList(JOB, ()), set()),
        (actions.Deliver(SHEET), {"out"}),
        (actions.MakeSheet(SHEET), {"out"}),
        (actions.LayOut(SHEET, "why"), set()),
        (actions.Prepare(JOB), set()),
        (actions.FileAway(JOB), set()),
    ],
)
def test_what_waits_for_which_place(action: actions.Action, places: set[str]) -> None:
    """Only what touches a place, or concludes from what it does not show; no other folder holds it up."""
    assert {place for place in ("in/dark", "in/light", "out") if held_up(action, {place})} == places


def test_a_file_whose_removal_is_pending_is_no_arrival() -> None:
    """Nor is one with its ticket; the same name in another folder is."""
    other = replace(ARRIVAL, file=Entry("light", "a.png", EntryKind.FILE, PRINT))
    with_ticket = replace(ARRIVAL, file=Entry("dark", "b.png", EntryKind.FILE, PRINT), ticket=ARRIVAL.file)
    assert not_ours_yet((ARRIVAL, other, with_ticket), [("dark", SOURCE)]) == (other,)
    assert not_ours_yet((ARRIVAL, other), []) == (ARRIVAL, other)
