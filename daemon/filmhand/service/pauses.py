"""Actions that failed wait before they are tried again, longer each time. Pure."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

_FIRST_S: Final = 2.0
_LONGEST_S: Final = 300.0


@dataclass(frozen=True)
class Pause:
    """How often an action failed, and when (monotonic seconds) it may be tried again."""

    failures: int
    until: float


def after_failure(pauses: Mapping[str, Pause], key: str, *, now: float) -> dict[str, Pause]:
    """The pauses with one more failure: 2, 4, 8 … seconds, at most five minutes."""
    failures = pauses[key].failures + 1 if key in pauses else 1
    return {**pauses, key: Pause(failures, now + min(_LONGEST_S, _FIRST_S * 2 ** (failures - 1)))}


def after_success(pauses: Mapping[str, Pause], key: str) -> dict[str, Pause]:
    """The pauses without an action that went well."""
    return {other: pause for other, pause in pauses.items() if other != key}


def paused(pauses: Mapping[str, Pause], *, now: float) -> frozenset[str]:
    """Keys of actions that must wait now."""
    return frozenset(key for key, pause in pauses.items() if pause.until > now)
