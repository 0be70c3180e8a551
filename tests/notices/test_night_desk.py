"""The night desk: what stops the line is told once until it ends, through restarts; the report is written once at its hour."""

import sqlite3
from dataclasses import replace
from datetime import timedelta
from pathlib import Path

import pytest

from filmhand.errors import JournalError
from filmhand.journal import jobs, night_events, sheets
from filmhand.journal.journal import Journal
from filmhand.journal.moves import Subject, attempt_failed, begin_attempt
from filmhand.notices.night_desk import NightDesk, told_if_journal_fails
from filmhand.service import filing
from filmhand.shop import Shop
from notices.nights import FEW_PIXELS, GROUND, NightShift, Office, house_of
from service.set_clock import SetClock

HOUSE = house_of(name="our shop")
COST = {"ink_ml": {"C": 2.0, "W": 8.0}, "film_m2": 0.9, "powder_g": 40.0, "minutes": 6.0, "cost": {"total": 7.5}}
ORDER = {
    "files": ["a.png"],
    "copies": 1,
    "film_m2": 0.45,
    "ink_ml": {"C": 1.0, "W": 4.0},
    "powder_g": 20.0,
    "cost": {"total": 3.75},
}


class Desk:
    """A desk, its shop and its clock."""

    def __init__(self, root: Path) -> None:
        self.shop = Shop(root)
        self.shop.state.mkdir(parents=True)
        self.journal = Journal.open(self.shop.journal)
        self.shift = NightShift(self.shop, self.journal)
        self.office, self.clock = Office(), SetClock()
        self.restart()

    def restart(self) -> None:
        """As a new process would: nothing is known but what the journal has."""
        self.journal.close()
        self.journal = self.shift.journal = Journal.open(self.shop.journal)
        self.desk = NightDesk(self.shop, self.journal, office=self.office, clock=self.clock)

    def look(self, **seen: tuple[str, ...]) -> list[str]:
        """A step of the loop; titles of what was posted in it."""
        before = len(self.office.posted)
        self.desk.look(self.shift.view(**seen), HOUSE)
        return [notice.title for notice in self.office.posted[before:]]

    def pass_until(self, day: int, hour: int, minute: int = 0) -> None:
        """Let time pass to a time in that May."""
        then = self.clock.wall.replace(day=day, hour=hour, minute=minute, second=0)
        self.clock.pass_by((then - self.clock.wall).total_seconds())

    def reports(self) -> list[str]:
        """The reports there are, from done/."""
        return sorted(path.relative_to(self.shop.done).as_posix() for path in self.shop.done.rglob("report-*.html"))


@pytest.fixture
def desk(tmp_path: Path) -> Desk:
    """A desk of a new shop, on 4 May 2031, 22:00."""
    return Desk(tmp_path)


def test_a_held_sheet_is_told_once_until_it_ended(desk: Desk) -> None:
    """Not at every step, not after a restart; released and held again, it is told again."""
    now = desk.clock.now()
    sheet = desk.shift.seal(now, desk.shift.ready("a.png", now))
    sheets.hold(desk.journal, sheet, "power was lost", at=now)
    assert desk.look() == [f"our shop: Sheet {sheet.name} is held"]
    assert "power was lost" in desk.office.posted[0].body
    assert [desk.look(), desk.look()] == [[], []]
    desk.restart()
    assert desk.look() == []
    held = sheets.find(desk.journal, sheet.name)
    assert held is not None
    sheets.released(desk.journal, held, at=now)
    assert desk.look() == []
    sheets.hold(desk.journal, sheet, "power was lost", at=now)
    assert desk.look() == [f"our shop: Sheet {sheet.name} is held"]


def test_a_file_whose_attempts_are_spent_and_none_that_is_merely_held(desk: Desk) -> None:
    """What preflight holds is the day's work and waits for the report; what broke off three times is told at once."""
    now = desk.clock.now()
    desk.shift.set_aside("ground.png", now, GROUND)
    assert desk.look() == []
    job = desk.shift.claim("@everyone <b>.png", now)
    found = jobs.find(desk.journal, job)
    assert found is not None
    spent = replace(found, attempt=3, findings=(filing.attempts_spent(replace(found, attempt=3)),))
    jobs.set_aside(desk.journal, spent, filing.JobStage.HOLDING, place="p", at=now)
    assert desk.look() == ["our shop: @\u200beveryone <\u200bb>.png is set aside"]
    assert "held/dark" in desk.office.posted[0].body
    desk.shift.file(job, now)
    assert desk.look() == []


def test_disk_and_settings_and_many_at_once(desk: Desk) -> None:
    """A standing trouble is told once, another fault of the settings anew; what comes together is one notice."""
    assert desk.look(short=("spool",)) == ["our shop: The disk is nearly full"]
    assert desk.look(short=("spool", "out")) == []
    assert desk.look() == []
    desk.desk.stands("settings", ("The settings cannot be followed", "line 3"))
    assert desk.look(short=("spool",)) == ["our shop: 2 things stop the line"]
    desk.desk.stands("settings", ("The settings cannot be followed", "line 9"))
    assert desk.look(short=("spool",)) == ["our shop: The settings cannot be followed"]
    assert desk.look(short=("spool",)) == []
    now = desk.clock.now()
    for number in range(40):
        job = jobs.find(desk.journal, desk.shift.claim(f"f{number}.png", now))
        assert job is not None
        jobs.set_aside(
            desk.journal,
            replace(job, findings=(filing.attempts_spent(replace(job, attempt=3)),)),
            filing.JobStage.HOLDING,
            place=job.name,
            at=now,
        )
    assert desk.look() == ["our shop: 40 things stop the line"]
    assert desk.office.posted[-1].body.count("is set aside") == 20
    assert "and 20 more" in desk.office.posted[-1].body


def test_the_report_is_written_once_at_its_hour(desk: Desk) -> None:
    """A new shop's first is for the next morning, though the machine was started again in between, and while off at the time."""
    desk.look()
    desk.pass_until(5, 6, 29)
    desk.restart()
    assert desk.look() == []
    desk.pass_until(5, 6, 30)
    assert desk.look() == ["our shop: the night to 06:30"]
    assert [desk.look(), desk.look()] == [[], []]
    desk.restart()
    assert desk.look() == []
    assert desk.reports() == ["2031-05-05/report-063000.html"]
    assert desk.office.posted[-1].page == desk.shop.done / "2031-05-05" / "report-063000.html"
    desk.pass_until(8, 11)
    desk.restart()
    assert desk.look() == ["our shop: the night to 11:00"]
    assert desk.look() == []
    assert desk.reports() == ["2031-05-05/report-063000.html", "2031-05-08/report-063000.html"]
    (row,) = desk.journal.rows("SELECT count(*) AS kept FROM event WHERE kind = 'reported'")
    assert row["kept"] == 1


def test_a_report_that_cannot_be_written_is_tried_again(desk: Desk) -> None:
    """done/ is a file for a while: the loop goes on, and the report comes once it can be written."""
    desk.look()
    desk.shop.done.write_bytes(b"")
    desk.pass_until(5, 7)
    assert desk.look() == []
    desk.shop.done.unlink()
    desk.clock.pass_by(1)
    assert desk.look() == []  # it pauses for two seconds first
    desk.clock.pass_by(2)
    assert desk.look() == ["our shop: the night to 07:00"]


def test_what_a_report_tells(desk: Desk) -> None:
    """Each thing of the night since the last report, none from before it; the sums are those of the sheets."""
    desk.look()
    desk.shift.set_aside("before.png", desk.clock.now(), FEW_PIXELS)
    desk.pass_until(5, 6, 30)
    desk.look()
    desk.pass_until(5, 23)
    now = desk.clock.now()
    first, second = desk.shift.ready("a.png", now, order="R1"), desk.shift.ready("<b>.png", now, copies=3, order="R2")
    facts = {"estimate": COST, "orders": [{**ORDER, "order": "R1"}, {**ORDER, "order": "R2", "cost": {"total": 9.25}}]}
    sheet = desk.shift.seal(now, first, second)
    sheets.staged(desk.journal, sheet, facts, at=now)
    sheets.delivering(desk.journal, sheet.id, boot="b", at=now)
    sheets.delivered(desk.journal, sheet.id, at=now)
    desk.shift.set_aside("white.png", now, GROUND)
    desk.shift.set_aside("small.png", now, FEW_PIXELS)
    broken = desk.shift.claim("broken.psd", now)
    begin_attempt(desk.journal, Subject.job(broken), at=now)
    attempt_failed(desk.journal, Subject.job(broken), "it took too long: more than 300 s", at=now)
    desk.look(short=("spool",))
    desk.clock.pass_by(3600)
    desk.look()
    desk.pass_until(6, 6, 30)
    assert desk.look() == ["our shop: the night to 06:30"]
    page = (desk.shop.done / "2031-05-06" / "report-063000.html").read_text("utf-8")
    notice = desk.office.posted[-1].body
    for said in (
        "05 May 2031, 06:30 to 06 May 2031, 06:30",
        "broken.psd",
        "more than 300 s",
        "05 May, 23:00 to 00:00",
        "&lt;b&gt;.png",
    ):
        assert said in page
    assert "before.png" not in page
    assert "<b>" not in page
    for said in (
        "Files that came: 5. Printed 1, held 1, rejected 1.",
        "Film 1.50 m (sheets: 1), ink 10.0 ml, cost 7.50.",
        "- white.png: It has a white ground.",
        "- small.png: It has 40 pixels an inch where 100 are needed.",
        "- dark: 2 copies of 1 file: closes at 22:00 or 06:00, when its oldest copy has waited 45 min",
        "- The disk is nearly full (23:00)",
        "Attempts that failed: 1.",
        "done/2031-05-06/report-063000.html",
    ):
        assert said in notice
    assert page.index("<td>R2</td>") < page.index("<td>R1</td>")  # the dearest first
    desk.pass_until(7, 6, 30)
    desk.look()
    page = (desk.shop.done / "2031-05-07" / "report-063000.html").read_text("utf-8")
    assert "white.png" in page and "small.png" not in page  # the one still waits for somebody, the other was told


def test_the_journals_own_trouble_is_told_once_an_hour(tmp_path: Path) -> None:
    """The daemon ends and is started again by its service manager, over and over."""
    shop, office, clock = Shop(tmp_path), Office(), SetClock()
    shop.state.mkdir()

    def start(problem: Exception) -> None:
        with pytest.raises(type(problem)), told_if_journal_fails(shop, HOUSE, office, clock=clock):
            raise problem

    full = JournalError("The journal could not be written: database or disk is full", next_step="Make room")
    for _ in range(5):
        start(full)
        clock.pass_by(60)
    assert [notice.title for notice in office.posted] == ["our shop: filmhand has stopped: journal trouble"]
    assert "Make room" in office.posted[0].body
    clock.pass_by(3600)
    start(sqlite3.DatabaseError("database disk image is malformed"))
    assert "malformed" in office.posted[1].body
    start(OtherError("x"))
    assert len(office.posted) == 2


class OtherError(Exception):
    """Something else."""


def test_what_the_journal_remembers(desk: Desk) -> None:
    """Troubles with their ends, those that still stand by key; told ones go with their report, standing ones stay."""
    now = desk.clock.now()
    one, two = (night_events.Told(key, f"t {key}", "b", now) for key in ("one", "two"))
    night_events.trouble(desk.journal, one, two)
    night_events.ended(desk.journal, "one", at=now + timedelta(minutes=5))
    assert dict(night_events.load(desk.journal).standing) == {"two": two}
    assert [told.ended for told in night_events.troubles(desk.journal)] == [now + timedelta(minutes=5), None]
    assert night_events.troubles(desk.journal, since=now + timedelta(minutes=6)) == [two]
    reported = night_events.Reported(now, now)
    night_events.reported(desk.journal, reported, place="p", standing=["two"])
    assert night_events.troubles(desk.journal) == [two]
    assert night_events.load(desk.journal).reported == reported
