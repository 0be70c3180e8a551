"""A result counts only for the attempt that is current: row 24 of docs/reliability.md."""

from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from shared_folders import Hands, jobs_of, look, two_folders
from structlog.testing import capture_logs

from filmhand.journal.journal import Journal
from filmhand.journal.moves import Subject, begin_attempt
from filmhand.journal.states import JobStage
from filmhand.service import reload
from filmhand.service.hand import Hand
from filmhand.shop import Shop


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    """A shop of its own."""
    return two_folders(tmp_path / "shop")


def test_a_result_of_an_earlier_attempt_does_not_count(shop: Shop) -> None:
    """While a child works the journal counts another attempt, as after a restart: what the child brings is left out, and said."""
    clock = Hands()
    shop.make_folders()
    (shop.inbox / "small" / "a.png").write_bytes(b"not a picture, so it would be sent back")
    with Journal.open(shop.journal) as journal, ThreadPoolExecutor(1) as pool:
        hand = Hand(shop, reload.load(shop), journal, pool=pool, clock=clock)
        look(hand, clock, times=3)
        (job,) = jobs_of(shop)
        assert (job.stage, job.attempt) == (JobStage.CLAIMED, 1)
        assert hand.under_way
        begin_attempt(journal, Subject.job(job.id), at=clock.now())
        with capture_logs() as said:
            hand.finish()
        (job,) = jobs_of(shop)
        assert (job.stage, job.attempt) == (JobStage.CLAIMED, 2)
        assert [line["attempt"] for line in said if line["event"] == "a late result does not count"] == [1]
        assert list(shop.cache.glob(f"{job.id}*")) == []
