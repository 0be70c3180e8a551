"""Which files have settled: pure, from repeated observation. A pause in a copy only restarts the wait."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from filmhand.intake.listing import Entry, EntryKind

Key = tuple[str, str]
"""Hot folder and name."""


@dataclass(frozen=True)
class Observation:
    """An entry as last seen, since when it is unchanged (our own monotonic seconds), and whether its end looks written."""

    entry: Entry
    unchanged_since: float
    finished: bool | None = None
    """None until someone looked."""


def observe(previous: Mapping[Key, Observation], entries: Iterable[Entry], *, now: float) -> dict[Key, Observation]:
    """The observations after a new listing: what changed starts anew, what is gone is forgotten."""
    observations = {}
    for entry in entries:
        key = (entry.folder, entry.name)
        old = previous.get(key)
        observations[key] = old if old is not None and old.entry == entry else Observation(entry, now)
    return observations


def to_look_at(observations: Iterable[Observation], *, now: float, quiet: float) -> tuple[Observation, ...]:
    """Quiet files whose end nobody has looked at yet."""
    return tuple(
        seen for seen in observations if seen.finished is None and _is_file(seen) and now - seen.unchanged_since >= quiet
    )


def looked_at(observation: Observation, *, finished: bool) -> Observation:
    """The observation, with what its end looks like."""
    return replace(observation, finished=finished)


def is_settled(observation: Observation, *, now: float, quiet: float, patience: float) -> bool:
    """Whether a file may be claimed: quiet for long enough, longer where its end does not look written. Empty files never."""
    age = now - observation.unchanged_since
    if not _is_file(observation) or observation.finished is None:
        return False
    return age >= (quiet if observation.finished else max(quiet, patience))


def _is_file(observation: Observation) -> bool:
    return observation.entry.kind is not EntryKind.FOREIGN and observation.entry.fingerprint.size > 0
