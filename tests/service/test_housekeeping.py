"""What the loop does beside the work: in a real shop's folders, with a clock that is set by hand."""

import os
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from filmhand.journal import jobs
from filmhand.journal.journal import Journal
from filmhand.journal.records import JobId
from filmhand.journal.states import JobStage
from filmhand.service import claiming
from filmhand.service.housekeeping import Housekeeping
from filmhand.shop import House, Shop, ShopSettings
from some_records import a_job
from work.plain_task import PRINTER

NOW = datetime(2031, 5, 4, 8, 0, tzinfo=UTC)


@dataclass
class _Clock:
    """A clock that is set by hand."""

    seconds: float = 0.0

    def now(self) -> datetime:
        return NOW + timedelta(seconds=self.seconds)

    def monotonic(self) -> float:
        return self.seconds


def _house(**settings: int) -> House:
    return House(ShopSettings(**settings), PRINTER, {})  # type: ignore[arg-type]


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    """Folders of a shop."""
    shop = Shop(tmp_path)
    shop.make_folders()
    return shop


@pytest.fixture
def journal(shop: Shop) -> Journal:
    """Its journal: of long ago a job that was rejected, one that waits, and the one that came last."""
    journal = Journal.open(shop.journal)
    old = NOW - timedelta(days=500)
    for name in ("rejected", "waiting", "newest"):
        jobs.claim(journal, jobs.New(a_job(name, at=old)))
    jobs.set_aside(journal, a_job("rejected", at=old), JobStage.REJECTING, place="x", at=old)
    jobs.filed(journal, a_job("rejected", at=old, stage=JobStage.REJECTING), at=old)
    jobs.prepared(journal, JobId("waiting"), {}, findings=(), at=old)
    return journal


def _keep(housekeeping: Housekeeping, house: House, *, short: tuple[str, ...] = (), at_work: bool = False) -> None:
    for _ in range(20):
        if not housekeeping.step(house, short=short, at_work=at_work):
            return
    raise AssertionError("there was always more to do")


def test_the_cache_keeps_what_waits(shop: Shop, journal: Journal) -> None:
    """99 MiB where 70 may be: the oldest is a waiting job's and stays, the rejected one's goes."""
    for number, name in enumerate(("waiting", "rejected", "held-once")):
        (shop.cache / name).mkdir()
        with (shop.cache / name / "C.npy").open("wb") as file:
            file.truncate(33 << 20)
        os.utime(shop.cache / name, (number, number))
    _keep(Housekeeping(shop, journal, _Clock()), _house(cache_mib=70))
    assert sorted(path.name for path in shop.cache.iterdir()) == ["held-once", "tables", "waiting"]


def test_days_under_done_go_as_the_settings_say(shop: Shop, journal: Journal) -> None:
    """By days, then by size; 0 and 0 keep all. Today stays."""
    for day in (1, 2, 3, 4):
        folder = shop.done / f"2031-05-0{day}"
        folder.mkdir()
        (folder / "a.png").write_bytes(bytes(1 << 20))
    clock = _Clock()
    housekeeping = Housekeeping(shop, journal, clock)

    def days() -> str:
        return "".join(sorted(path.name[-1] for path in shop.done.iterdir()))

    for settings, left in (({}, "1234"), ({"keep_done_days": 2}, "234"), ({"keep_done_mib": 2}, "34")):
        _keep(housekeeping, _house(**settings))
        assert days() == left
        clock.seconds += 3601
    os.truncate(shop.done / "2031-05-04" / "a.png", 9 << 20)
    (shop.done / "2031-05-04" / "b.png").write_bytes(b"")
    _keep(housekeeping, _house(keep_done_mib=2))
    assert days() == "4"


def test_the_long_ended_is_forgotten(shop: Shop, journal: Journal) -> None:
    """400 days after its end unless the settings say never; what has not ended stays."""
    clock = _Clock()
    housekeeping = Housekeeping(shop, journal, clock)
    _keep(housekeeping, _house(keep_journal_days=0))
    assert jobs.find(journal, "rejected") is not None
    clock.seconds += 3601
    _keep(housekeeping, _house())
    assert jobs.find(journal, "rejected") is None
    assert {job.id for job in jobs.by_stage(journal, *JobStage)} == {"waiting", "newest"}


def test_ballast_comes_back_with_the_room(shop: Shop, journal: Journal) -> None:
    """Made at the first occasion, not while the disk is short, and again once it is not."""
    clock = _Clock()
    housekeeping = Housekeeping(shop, journal, clock)
    _keep(housekeeping, _house())
    size = shop.ballast.stat().st_size
    assert size == 4 << 20
    shop.ballast.unlink()
    for short, is_there in ((("shop",), False), ((), True)):
        clock.seconds += 61
        _keep(housekeeping, _house(), short=short)
        assert shop.ballast.exists() is is_there


def test_each_chore_has_its_time(shop: Shop, journal: Journal) -> None:
    """Not looked at again within the minute, so that a busy loop is not held up by it; a folder that is gone is said."""
    clock = _Clock()
    housekeeping = Housekeeping(shop, journal, clock)
    _keep(housekeeping, _house())
    shop.ballast.unlink()
    clock.seconds += 30
    _keep(housekeeping, _house())
    assert not shop.ballast.exists()
    shop.tables.rmdir()
    clock.seconds += 31
    _keep(housekeeping, _house())
    assert shop.ballast.exists()


def test_the_spool_keeps_no_copy_of_what_was_filed(shop: Shop, journal: Journal) -> None:
    """A crash between the commit and the removal left it; the next start removes it, and nothing that a job still needs."""
    for name in ("rejected", "waiting", "waiting.ticket", "nobodys", "newest.part"):
        (shop.spool / name).write_bytes(b"x")
    assert claiming.drop_strays(shop, journal) == 2
    assert sorted(path.name for path in shop.spool.iterdir()) == ["waiting", "waiting.ticket"]
