"""What the loop does beside the work, each a little at a time: the ballast, the cache's size, done/, the journal's past."""

from collections.abc import Callable, Collection
from datetime import date, timedelta
from typing import Final

import structlog

from filmhand.journal import compact, jobs
from filmhand.journal.ballast import Ballast
from filmhand.journal.journal import Journal
from filmhand.journal.records import JobId
from filmhand.journal.states import ACTIVE_JOBS, JobStage
from filmhand.service import eviction, retention
from filmhand.service.clock import Clock
from filmhand.shop import House, Shop

_log = structlog.get_logger()

_MINUTE_S: Final = 60.0
_HOUR_S: Final = 3600.0
_JOBS_A_STEP: Final = 25
_COPIES_A_STEP: Final = 2000
_PAGES_A_STEP: Final = 256
_DAYS_A_STEP: Final = 10
_NEEDED: Final = tuple(stage for stage in ACTIVE_JOBS if stage is not JobStage.HELD)
"""Stages of jobs of which nothing may go from the cache. A held one is prepared again when it is released."""


class Housekeeping:
    """Keeps a shop within its limits. Bounded: a step holds the loop up for some hundredths of a second."""

    def __init__(self, shop: Shop, journal: Journal, clock: Clock) -> None:
        self._shop = shop
        self._journal = journal
        self._clock = clock
        self._ballast = Ballast(shop.ballast)
        self._days: dict[date, retention.Day] = {}
        self._due_at: dict[str, float] = {}

    def step(self, house: House, *, short: Collection[str], at_work: bool) -> bool:
        """Do a little of what is due; whether there is more of it at once. `short`: where room on the disk is short.

        `at_work`: whether child processes are under way.
        """
        settings = house.settings
        chores: dict[str, tuple[float, Callable[[], bool]]] = {
            "ballast": (_MINUTE_S, lambda: not short and self._make_ballast()),
            "cache": (_MINUTE_S, lambda: self._evict(settings.cache_mib, at_work=at_work)),
            "done": (_HOUR_S, lambda: self._retain(settings.keep_done_days, settings.keep_done_mib)),
            "journal": (_HOUR_S, lambda: self._forget(settings.keep_journal_days)),
        }
        now = self._clock.monotonic()
        due = [name for name in chores if self._due_at.get(name, now) <= now]
        more = [self._do(name, *chores[name], now=now) for name in due]
        return any(more)

    def _do(self, name: str, every_s: float, chore: Callable[[], bool], *, now: float) -> bool:
        try:
            more = chore()
        except OSError as problem:
            _log.warning("keeping house did not work, it will be tried again", what=name, why=str(problem))
            more = False
        if not more:
            self._due_at[name] = now + every_s
        return more

    def _make_ballast(self) -> bool:
        if not self._ballast.is_there and self._ballast.make():
            _log.info("there is room for the journal's ballast again")
        return False

    def _evict(self, most_mib: int, *, at_work: bool) -> bool:
        needed: set[JobId] = {job.id for job in jobs.by_stage(self._journal, *_NEEDED)}
        eviction.evict(self._shop.cache, most_mib=most_mib, needed=needed, at_work=at_work)
        return False

    def _retain(self, keep_days: int, keep_mib: int) -> bool:
        if retention.remove_some(self._shop.done):
            return True
        self._days = retention.look(self._shop.done, self._days, most=_DAYS_A_STEP if keep_mib else 0)
        sizes = {day: one.size_bytes or 0 for day, one in self._days.items()}
        if keep_mib and any(one.size_bytes is None for one in self._days.values()):
            return True
        today = self._clock.now().date()
        going = retention.choose(sizes, today=today, keep_days=keep_days, keep_bytes=keep_mib << 20)
        for day in going[:1]:
            retention.set_going(self._shop.done, day)
        return bool(going)

    def _forget(self, keep_days: int) -> bool:
        if not keep_days:
            return False
        before = self._clock.now() - timedelta(days=keep_days)
        gone = compact.forget(self._journal, before=before, most_jobs=_JOBS_A_STEP, most_copies=_COPIES_A_STEP)
        self._journal.give_back(_PAGES_A_STEP)
        return gone > 0
