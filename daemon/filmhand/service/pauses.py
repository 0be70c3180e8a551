"""What failed waits before it is tried again, longer each time. Pure."""

from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from typing import Final, TypeVar

Key = TypeVar("Key", bound=Hashable)

_FIRST_S: Final = 2.0
_LONGEST_S: Final = 300.0
_MOST_DOUBLINGS: Final = 64
"""By then every pause is the longest; a float has no room for what doubles for days."""


@dataclass(frozen=True)
class Pause:
    """How often something failed in a row, and when (monotonic seconds) it may be tried again."""

    failures: int
    until: float


def after_failure(
    pauses: Mapping[Key, Pause], key: Key, *, now: float, first_s: float = _FIRST_S, longest_s: float = _LONGEST_S
) -> dict[Key, Pause]:
    """The pauses with one more failure: 2, 4, 8 … seconds, at most five minutes, if nothing else is said."""
    failures = pauses[key].failures + 1 if key in pauses else 1
    seconds = first_s * 2 ** min(failures - 1, _MOST_DOUBLINGS)
    return {**pauses, key: Pause(failures, now + min(longest_s, seconds))}


def after_success(pauses: Mapping[Key, Pause], key: Key) -> dict[Key, Pause]:
    """The pauses without what went well."""
    return {other: pause for other, pause in pauses.items() if other != key}


def paused(pauses: Mapping[Key, Pause], *, now: float) -> frozenset[Key]:
    """What must wait now."""
    return frozenset(key for key, pause in pauses.items() if pause.until > now)
