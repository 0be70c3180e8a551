"""The night desk: tells people once what stops the line, and writes the report at its hours. Used from the loop's thread only."""

import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final, Protocol

import structlog

from filmhand.errors import JournalError
from filmhand.journal import night_events
from filmhand.journal.journal import Journal
from filmhand.journal.night_events import Reported, Told
from filmhand.notices import night_words as words
from filmhand.notices import report, reporting, troubles
from filmhand.notices.outbox import Notice
from filmhand.notices.troubles import Trouble
from filmhand.service import pauses
from filmhand.service.clock import Clock
from filmhand.service.decide import View
from filmhand.shop import House, Shop, ShopSettings

_log = structlog.get_logger()

_MOST_TOLD: Final = 20
_REPORT: Final = "report"
_TELL: Final = "tell"
_JOURNAL_AGAIN: Final = timedelta(hours=1)


class Office(Protocol):
    """Who sends notices."""

    def post(self, notice: Notice) -> None:
        """Leave a notice; returns at once."""

    def follow(self, settings: ShopSettings) -> None:
        """Go by these settings from here on."""


class NightDesk:
    """One for a daemon."""

    def __init__(self, shop: Shop, journal: Journal, *, office: Office, clock: Clock) -> None:
        self._shop = shop
        self._journal = journal
        self._office = office
        self._clock = clock
        known = night_events.load(journal)
        self._reported = known.reported
        self._told = dict(known.standing)
        self._standing: dict[str, Trouble] = {}
        self._pauses: dict[str, pauses.Pause] = {}

    def stands(self, source: str, said: tuple[str, str] | None) -> None:
        """Something outside of the journal stops the line: its title and words; None: no longer.

        `source` is "settings", "disk", and the like; each has one trouble at a time, told anew when its title changes.
        """
        if said is None:
            self._standing.pop(source, None)
        else:
            key = f"{source}: {said[1]}" if source == "settings" else source
            self._standing[source] = Trouble(key, *said)

    def settings_refused(self, why: str | None) -> None:
        """People are told of settings that cannot be followed, and again once other ones cannot; None: they are in force."""
        self.stands("settings", None if why is None else words.settings_fault(why))

    def look(self, view: View, house: House) -> None:
        """After a step of the loop, with what it saw: tell what is news, write the report if it is time."""
        self._office.follow(house.settings)
        short = view.short_of_space
        self.stands("disk", words.disk_short(short) if short else None)
        found = (*troubles.of_journal(view.jobs, view.sheets), *self._standing.values())
        self._guarded(_TELL, lambda: self._tell(found, house))
        self._guarded(_REPORT, lambda: self._report(house))

    def _tell(self, found: tuple[Trouble, ...], house: House) -> None:
        now, news = self._clock.now(), troubles.news(self._told, found)
        if news.over:
            night_events.ended(self._journal, *news.over, at=now)
            self._told = {key: told for key, told in self._told.items() if key not in news.over}
        if news.fresh:
            fresh = [Told(trouble.key, trouble.title, trouble.body, now) for trouble in news.fresh]
            night_events.trouble(self._journal, *fresh)
            self._told |= {told.key: told for told in fresh}
            self._office.post(notice_of(news.fresh, shop=house.settings.name, root=self._shop.root))

    def _report(self, house: House) -> None:
        now = self._clock.now()
        if self._reported is None:
            self._keep(Reported(now, now), place="")  # reports tell from here on
            return
        due = reporting.report_due(house.settings.report_at, last=self._reported.due, now=now)
        if due is None:
            return
        night = report.gather(self._journal, since=min(self._reported.until, now), house=house, until=now)
        path = report.write(self._shop, house, night, at=due)
        place = path.relative_to(self._shop.root).as_posix()
        self._keep(Reported(due, now), place=place)
        _log.info("report written", place=place)
        title = words.REPORT_TITLE.format(shop=house.settings.name, until=now)
        self._office.post(Notice(title, report.summary(night, place), path))

    def _keep(self, reported: Reported, *, place: str) -> None:
        night_events.reported(self._journal, reported, place=place, standing=self._told)
        self._reported = reported

    def _guarded(self, key: str, deed: Callable[[], None]) -> None:
        """What does not work is said, paused and tried again; only the journal's own trouble goes on to the loop."""
        if key in pauses.paused(self._pauses, now=self._clock.monotonic()):
            return
        try:
            deed()
        except (JournalError, sqlite3.Error):
            raise
        except Exception as problem:  # noqa: BLE001 -- what only tells of the work never stops it
            self._pauses = pauses.after_failure(self._pauses, key, now=self._clock.monotonic())
            _log.warning("this did not work, it will be tried again", action=key, why=str(problem))
        else:
            self._pauses = pauses.after_success(self._pauses, key)


def notice_of(fresh: tuple[Trouble, ...], *, shop: str, root: Path) -> Notice:
    """One notice for all that is new, however much it is."""
    if len(fresh) == 1:
        return Notice(f"{shop}: {fresh[0].title}", fresh[0].body)
    lines = [f"{trouble.title}. {trouble.body}" for trouble in fresh[:_MOST_TOLD]]
    if len(fresh) > _MOST_TOLD:
        lines.append(words.AND_MORE.format(count=len(fresh) - _MOST_TOLD, root=root))
    return Notice(words.SEVERAL_TITLE.format(shop=shop, count=len(fresh)), "\n\n".join(lines))


@contextmanager
def told_if_journal_fails(shop: Shop, house: House, office: Office, *, clock: Clock) -> Iterator[None]:
    """People are told when what happens inside ends because of the journal; the end goes on."""
    try:
        yield
    except (JournalError, sqlite3.Error) as problem:
        if _is_news(shop.state / "journal-trouble-told", now=clock.now()):
            title, body = words.journal_fault(str(problem))
            office.follow(house.settings)
            office.post(Notice(f"{house.settings.name}: {title}", body))
        raise


def _is_news(mark: Path, *, now: datetime) -> bool:
    """Told once an hour at most, for a service manager may start the daemon again and again.

    The journal cannot remember that, so a file's time does; where even that cannot be written, it is told.
    """
    try:
        if mark.exists() and timedelta(0) <= now - datetime.fromtimestamp(mark.stat().st_mtime, now.tzinfo) < _JOURNAL_AGAIN:
            return False
        mark.touch()
        os.utime(mark, (now.timestamp(), now.timestamp()))
    except OSError as unwritten:
        _log.warning("what was told cannot be remembered", why=str(unwritten))
    return True
