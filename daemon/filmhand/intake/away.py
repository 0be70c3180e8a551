"""Whether the folders that may lie on a server are there: pure. Nothing is concluded from an empty folder: the marker tells."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Final

from filmhand.intake.listing import Entry

OUT: Final = "out"
"""The place of the output folder; those of hot folders are `place_of` their names."""
SLOW: Final = (
    "it does not answer in time. Look whether its server is reached; if it is always slow, raise listing_limit in shop.toml"
)
MARKER_GONE: Final = (
    "its file .filmhand-marker is gone, so the share is probably not mounted. Mount it; or, if this is the right folder, "
    "make an empty file of that name in it"
)


@dataclass(frozen=True)
class Heard:
    """What listing a folder came to. `problem`: why it could not be listed."""

    entries: tuple[Entry, ...] = ()
    has_marker: bool = False
    problem: str | None = None


@dataclass(frozen=True)
class Away:
    """A folder that is offline: why, for people, and since when."""

    why: str
    since: datetime


@dataclass(frozen=True)
class Known:
    """What is remembered of the folders between runs, by place ("in/dark", "out")."""

    marked: frozenset[str] = frozenset()
    """Those whose marker was seen once: without it they are not there."""
    away: Mapping[str, Away] = field(default_factory=dict)
    back: Mapping[str, datetime] = field(default_factory=dict)
    """When those that were offline came back: until then nothing could arrive in them."""


def judge(known: Known, heard: Mapping[str, Heard | None], *, now: datetime) -> Known:
    """What is known after a look. `heard` has every place there is; None where the listing is still under way."""
    away = {}
    for place, said in heard.items():
        why = _why_away(said, is_marked=place in known.marked)
        if why is not None:
            before = known.away.get(place)
            away[place] = Away(why, now if before is None else before.since)
    seen = {place for place, said in heard.items() if said is not None and said.has_marker}
    back = dict.fromkeys(known.away.keys() - away.keys(), now)
    kept = {**known.back, **back}
    return Known(
        marked=frozenset((known.marked & heard.keys()) | seen),
        away=away,
        back={place: since for place, since in kept.items() if place in heard},
    )


def _why_away(said: Heard | None, *, is_marked: bool) -> str | None:
    if said is None:
        return SLOW
    if said.problem is not None:
        return f"it cannot be listed: {said.problem}"
    return MARKER_GONE if is_marked and not said.has_marker else None


def place_of(folder: str) -> str:
    """What a hot folder is called among the places."""
    return f"in/{folder}"
