"""Notices that wait to be sent, a letter an address: bounded, and patient with addresses that do not answer. Pure."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Final

from filmhand.notices.addresses import Address
from filmhand.service import pauses
from filmhand.service.pauses import Pause

MOST_LETTERS: Final = 200
"""When more wait, the oldest goes: what is new matters more, and the night's report has everything."""
FIRST_S: Final = 30.0
LONGEST_S: Final = 3600.0
KEPT_S: Final = 24 * 3600.0
"""A letter this old is given up."""


@dataclass(frozen=True)
class Notice:
    """What people are told: a line, some more, and perhaps a page."""

    title: str
    body: str
    page: Path | None = None
    """An HTML file that goes along where the service takes files."""


@dataclass(frozen=True)
class Letter:
    """A notice for one address."""

    notice: Notice
    address: Address
    posted: float
    """Monotonic seconds."""


@dataclass(frozen=True)
class Outbox:
    """Letters, the oldest first, and the addresses that are left alone for a while."""

    letters: tuple[Letter, ...] = ()
    resting: Mapping[Address, Pause] = field(default_factory=dict)

    def put(self, notice: Notice, addresses: Iterable[Address], *, now: float) -> tuple["Outbox", int]:
        """With a letter to each address; and how many old ones had to go for them."""
        letters = (*self.letters, *(Letter(notice, address, now) for address in addresses))
        lost = max(0, len(letters) - MOST_LETTERS)
        return replace(self, letters=letters[lost:]), lost

    def due(self, *, now: float) -> Letter | None:
        """What to send now: the oldest letter whose address is not left alone."""
        return next((letter for letter in self.letters if self._rests_until(letter) <= now), None)

    def next_due(self) -> float | None:
        """When there is something to send again; None: nothing waits."""
        return min((self._rests_until(letter) for letter in self.letters), default=None)

    def sent(self, letter: Letter) -> "Outbox":
        """It arrived, so its address answers."""
        return replace(self.dropped(letter), resting=pauses.after_success(self.resting, letter.address))

    def dropped(self, letter: Letter) -> "Outbox":
        """It will never be sent."""
        return replace(self, letters=tuple(other for other in self.letters if other is not letter))

    def failed(self, letter: Letter, *, now: float) -> tuple["Outbox", Pause]:
        """Its address is left alone: half a minute, a minute, two …, at most an hour."""
        resting = pauses.after_failure(self.resting, letter.address, now=now, first_s=FIRST_S, longest_s=LONGEST_S)
        return replace(self, resting=resting), resting[letter.address]

    def without_old(self, *, now: float) -> tuple["Outbox", tuple[Letter, ...]]:
        """Without letters that waited too long; and these."""
        old = tuple(letter for letter in self.letters if now - letter.posted > KEPT_S)
        return replace(self, letters=tuple(letter for letter in self.letters if letter not in old)), old

    def _rests_until(self, letter: Letter) -> float:
        rest = self.resting.get(letter.address)
        return letter.posted if rest is None else rest.until
