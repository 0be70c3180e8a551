"""The postman: a thread that sends what the loop posts. It never holds the loop up, and whatever happens to it stops no work."""

import math
from collections import deque
from collections.abc import Callable
from threading import Condition, Thread
from types import TracebackType
from typing import Final, Self

import structlog

from filmhand.errors import SettingsError
from filmhand.notices.addresses import Address
from filmhand.notices.letter_box import LetterBox
from filmhand.notices.outbox import FIRST_S, MOST_LETTERS, Letter, Notice, Outbox
from filmhand.notices.send import Came, send
from filmhand.service.clock import Clock
from filmhand.shop import ShopSettings

_log = structlog.get_logger()

_LAST_S: Final = 10.0
"""Longest time that an end waits for what can still be sent."""


class Postman:
    """Sends notices to the addresses that the letter box holds at that time. Used as a context, its thread runs inside."""

    def __init__(self, box: LetterBox, *, clock: Clock, deliver: Callable[[Notice, Address], Came] = send) -> None:
        self._box = box
        self._clock = clock
        self._deliver = deliver
        self._posted: deque[Notice] = deque(maxlen=MOST_LETTERS)
        self._outbox = Outbox()
        self._changed = Condition()
        self._closed_until = -math.inf
        """Until when (monotonic seconds) the addresses are not looked for again."""
        self._ends = False
        self._thread = Thread(target=self._run, name="postman", daemon=True)

    def post(self, notice: Notice) -> None:
        """Leave a notice; returns at once."""
        with self._changed:
            is_full = len(self._posted) == MOST_LETTERS
            self._posted.append(notice)
            self._changed.notify()
        if is_full:
            _log.error("too many notices wait, the oldest are given up", notices=1)

    def follow(self, settings: ShopSettings) -> None:
        """Go by these settings from here on."""
        self._box.follow(settings)

    def round(self) -> bool:
        """Send one letter, if one is due; whether there was one."""
        now = self._clock.monotonic()
        self._take_in(now)
        self._outbox, old = self._outbox.without_old(now=now)
        for given_up in old:
            _log.error("a notice is given up, its address did not take it for a day", address=given_up.address.shown)
        letter = self._outbox.due(now=now)
        if letter is None:
            return False
        self._settle(letter, self._deliver(letter.notice, letter.address))
        return True

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, kind: type[BaseException] | None, value: BaseException | None, traceback: TracebackType | None) -> None:
        with self._changed:
            self._ends = True
            self._changed.notify()
        self._thread.join(_LAST_S)
        unsent = len(self._posted) + len(self._outbox.letters)
        if unsent:
            _log.warning("notices were not sent before the end", notices=unsent)

    def _run(self) -> None:
        """Until the end; then what is due is still sent."""
        while True:
            try:
                while self.round():
                    pass
            except Exception as problem:  # noqa: BLE001 -- lost notices never stop work; only the kind is said: words may hold an address
                _log.error("notices cannot be sent", why=type(problem).__name__)
                with self._changed:
                    self._posted.clear()
                self._outbox = Outbox()
            with self._changed:
                if self._ends:
                    return
                self._changed.wait(self._pause())

    def _pause(self) -> float | None:
        """Seconds until there is something to do; None: until something is posted."""
        times = [self._outbox.next_due(), self._closed_until if self._posted else None]
        return min((max(0.0, when - self._clock.monotonic()) for when in times if when is not None), default=None)

    def _take_in(self, now: float) -> None:
        """A letter to each address for what was posted. While the addresses cannot be read, it stays where it is."""
        if not self._posted or now < self._closed_until:
            return
        try:
            addresses = self._box()
        except SettingsError as problem:
            _log.error("notices cannot be sent, it will be tried again", notices=len(self._posted), why=str(problem))
            self._closed_until = now + FIRST_S
            return
        with self._changed:
            posted = tuple(self._posted)
            self._posted.clear()
        for notice in posted:
            self._outbox, lost = self._outbox.put(notice, addresses, now=now)
            if lost:
                _log.error("too many notices wait, the oldest are given up", notices=lost)

    def _settle(self, letter: Letter, came: Came) -> None:
        shown = letter.address.shown
        if came is Came.SENT:
            self._outbox = self._outbox.sent(letter)
            _log.info("notice sent", address=shown, title=letter.notice.title)
        elif came is Came.UNKNOWN:
            self._outbox = self._outbox.dropped(letter)
            _log.error("this notice is lost", address=shown, why=came.value)
        else:
            now = self._clock.monotonic()
            self._outbox, rest = self._outbox.failed(letter, now=now)
            again_s = round(rest.until - now)
            _log.warning("a notice was not sent, it will be tried again", address=shown, why=came.value, again_s=again_s)
