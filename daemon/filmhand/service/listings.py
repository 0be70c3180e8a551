"""Listing the hot folders, each in a thread of its own: a server that hangs holds up its own folder and nothing else.

A folder whose listing is still under way is not asked again, so there is never more than one thread a folder. Threads do not keep
the program from ending. What a late listing brings counts from then on: while a server hangs, no file settles.
"""

import json
from collections.abc import Mapping
from concurrent.futures import Future, wait
from datetime import datetime
from pathlib import Path
from threading import Thread

import structlog

from filmhand import durable
from filmhand.intake.away import OUT, Away, Heard, Known, judge, place_of
from filmhand.intake.listing import Entry, list_folder
from filmhand.marker import has_marker, put_marker
from filmhand.shop import House, Shop

_log = structlog.get_logger()


class Listings:
    """Asks the folders of a shop, and remembers on disk which of them have a marker and which are offline."""

    def __init__(self, shop: Shop) -> None:
        self._shop = shop
        self._known = remembered(shop)
        self._is_written = True
        self._asked: dict[str, Future[Heard]] = {}

    @property
    def away(self) -> Mapping[str, Away]:
        """Places that were offline at the last look."""
        return self._known.away

    @property
    def back(self) -> Mapping[str, datetime]:
        """When places that had been offline came back."""
        return self._known.back

    def is_marked(self, place: str) -> bool:
        """Whether a place had its marker once: nothing may be concluded from it without."""
        return place in self._known.marked

    def look(self, house: House, *, now: datetime) -> dict[str, tuple[Entry, ...]]:
        """The entries of every hot folder that is there, by its name. What changed with the folders is said and remembered."""
        places = {place_of(folder): self._shop.inbox / folder for folder in house.rules} | {OUT: self._shop.out}
        heard = self._listen(places, limit_s=house.settings.listing_limit)
        self._follow(judge(self._known, heard, now=now))
        there = {folder: heard[place_of(folder)] for folder in house.rules if place_of(folder) not in self._known.away}
        return {folder: said.entries for folder, said in there.items() if said is not None}

    def _listen(self, places: Mapping[str, Path], *, limit_s: float) -> dict[str, Heard | None]:
        """Ask every folder that is not being asked already; None for those that have not answered within the limit."""
        fresh = [place for place in places if place not in self._asked]
        for place in fresh:
            self._asked[place] = _ask(place, places[place], may_mark=not self.is_marked(place))
        wait([self._asked[place] for place in fresh], timeout=limit_s)
        answered = {place: future.result() for place, future in self._asked.items() if future.done()}
        self._asked = {place: future for place, future in self._asked.items() if place not in answered}
        return {place: answered.get(place) for place in places}

    def _follow(self, known: Known) -> None:
        if known == self._known and self._is_written:
            return
        for place in known.away.keys() - self._known.away.keys():
            _log.warning("folder is offline, the others go on", folder=place, why=known.away[place].why)
        for place in self._known.away.keys() - known.away.keys():
            _log.info("folder is no longer offline", folder=place)
        self._known = known
        try:
            durable.write(self._shop.folders, _as_json(known))
        except OSError as problem:  # a full disk: written at the next look, and work goes on
            if self._is_written:
                _log.warning("what is known of the folders cannot be written yet", why=str(problem))
            self._is_written = False
        else:
            self._is_written = True


def remembered(shop: Shop) -> Known:
    """What the last look left, also for those who only want to know. Nothing where there was none, or it cannot be read."""
    try:
        said = json.loads(shop.folders.read_bytes())
        away = {place: Away(why, datetime.fromisoformat(since)) for place, (why, since) in said["away"].items()}
        back = {place: datetime.fromisoformat(since) for place, since in said["back"].items()}
        return Known(frozenset(said["marked"]), away, back)
    except FileNotFoundError:
        return Known()
    except (ValueError, KeyError, TypeError) as problem:
        _log.warning("what was known of the folders cannot be read, it is found out anew", why=str(problem))
        return Known()


def _as_json(known: Known) -> bytes:
    away = {place: (gone.why, gone.since.isoformat()) for place, gone in sorted(known.away.items())}
    back = {place: since.isoformat() for place, since in sorted(known.back.items())}
    return json.dumps({"marked": sorted(known.marked), "away": away, "back": back}, indent=1).encode()


def _ask(place: str, path: Path, *, may_mark: bool) -> Future[Heard]:
    answer: Future[Heard] = Future()
    Thread(target=_hear, args=(answer, place, path, may_mark), name=f"list {place}", daemon=True).start()
    return answer


def _hear(answer: Future[Heard], place: str, path: Path, may_mark: bool) -> None:
    try:
        entries = list_folder(path, path.name) if place != OUT else ()
        answer.set_result(Heard(entries, has_marker(path) or (may_mark and put_marker(path))))
    except OSError as problem:
        answer.set_result(Heard(problem=str(problem)))
