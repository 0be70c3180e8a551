"""A shop in this process, with two hot folders and a clock of its own: for tests of what the hand does look by look."""

import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path

from filmhand.journal import jobs
from filmhand.journal.journal import Journal
from filmhand.journal.records import Job
from filmhand.journal.states import JobStage
from filmhand.service import loop, reload
from filmhand.service.decide import Mode
from filmhand.service.hand import Hand
from filmhand.shop import Shop
from small_shop import RULE, new_shop


@dataclass
class Hands:
    """A clock that goes only when it is told to."""

    wall: datetime = datetime(2031, 5, 4, 22, 0, tzinfo=UTC)
    seconds: float = field(default=1000.0)

    def now(self) -> datetime:
        """What the wall clock says."""
        return self.wall

    def monotonic(self) -> float:
        """Our own seconds."""
        return self.seconds

    def forward(self, seconds: float) -> None:
        """Both go on."""
        self.seconds += seconds
        self.wall += timedelta(seconds=seconds)


def two_folders(root: Path) -> Shop:
    """A shop with the hot folders `small` and `other`; quiet 2 s, patience 30 s; a listing is waited for, however busy we are."""
    new_shop(root)
    (root / "shop.toml").write_text('listing_limit = "60 s"\n', "utf-8")
    (root / "rules" / "other.toml").write_text(RULE, "utf-8")
    return Shop.at(root)


def copied(shop: Shop, root: Path) -> Shop:
    """A shop of its own for one test."""
    return Shop.at(Path(shutil.copytree(shop.root, root)))


@contextmanager
def hand_of(shop: Shop, clock: Hands) -> Iterator[Hand]:
    """The hand as `filmhand run` starts it."""
    with loop.hand_for(shop, reload.load(shop), clock) as hand:
        yield hand


def look(hand: Hand, clock: Hands, *, times: int = 1, every: float = 5.0) -> None:
    """So many listings; what each asks for is done."""
    for _ in range(times):
        clock.forward(every)
        hand.step(Mode.DAEMON)


def jobs_of(shop: Shop) -> list[Job]:
    """Every job there ever was, oldest first."""
    with Journal.read_only(shop.journal) as journal:
        return sorted(jobs.by_stage(journal, *JobStage), key=lambda job: job.seq)


def names_of(shop: Shop) -> list[str]:
    """The names of the files that became jobs, oldest first."""
    return [job.name for job in jobs_of(shop)]


def pending_of(shop: Shop) -> int:
    """How many sources are ours and not removed yet."""
    with Journal.read_only(shop.journal) as journal:
        return len(list(jobs.pending_sources(journal)))
