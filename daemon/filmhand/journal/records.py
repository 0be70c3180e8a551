"""What the journal holds, as frozen values; and a job folded from its events, which must equal its row."""

import json
import os
from collections.abc import Iterable
from dataclasses import asdict, dataclass, field
from datetime import datetime
from enum import StrEnum
from typing import Any, Final, NewType, Self

from filmhand.gang.sheet import Placement, Spot
from filmhand.intake.listing import Fingerprint
from filmhand.intake.ticket import Ticket
from filmhand.journal.states import JobStage, SheetStage
from filmhand.preflight.finding import Finding

JobId = NewType("JobId", str)
SheetId = NewType("SheetId", int)

DEFERRED: Final = "attempt-deferred"
"""The event of an attempt that does not count."""


class JobRole(StrEnum):
    """What a job's file is to us."""

    ARTWORK = "artwork"
    """Something to print."""
    CONTAINER = "container"
    """A file whose pages or files became jobs of their own."""
    ORDER_LIST = "order-list"
    """A list of orders; its lines are taken by the artwork that they name."""
    TICKET = "ticket"
    """A ticket whose artwork never came."""


@dataclass(frozen=True)
class Source:
    """A file in a hot folder that was copied into the spool, until it is removed there."""

    job: JobId
    role: str
    """"artwork" or "ticket"."""
    name: str
    fingerprint: Fingerprint
    digest: str
    removed: bool = False


@dataclass(frozen=True)
class Job:
    """A job as its row says."""

    id: JobId
    seq: int
    """Order of arrival."""
    folder: str
    name: str
    """The file's name as the customer sent it; bytes that are not UTF-8 stand as surrogates (PEP 383)."""
    digest: str
    size_bytes: int
    stage: JobStage
    attempt: int
    """Attempts begun since it was claimed or released."""
    approved: bool
    """A person said yes to what preflight would hold."""
    copies: int
    ticket: Ticket
    arrived: datetime
    since: datetime
    """When it came to its stage."""
    place: str | None = None
    """The name chosen for it under held/, rejects/ or done/."""
    findings: tuple[Finding, ...] = ()
    prepared: dict[str, Any] = field(default_factory=dict)
    """What preparing it found: printed size, knockout figures."""
    rule_digest: str = ""
    role: JobRole = JobRole.ARTWORK
    page: int = 0
    """Which page of a PDF it is; 0: the file as it came."""
    parent: JobId | None = None
    """The container that it came in."""
    printer: str = ""
    """The name of the printer file that it is prepared for; empty: the shop's `printer.toml`."""

    @property
    def worst(self) -> Finding | None:
        """The finding that weighs most, the first of equals; None where there is none."""
        return max(self.findings, key=lambda finding: finding.severity, default=None)

    @property
    def shown_name(self) -> str:
        """The file's name for people: what cannot be shown is replaced."""
        return shown(self.name)


@dataclass(frozen=True)
class Expected:
    """A line of an order list that no artwork has taken yet: what it orders, or why it cannot be followed."""

    list: JobId
    line: int
    folder: str
    file: str
    ticket: Ticket | Finding


@dataclass(frozen=True)
class SheetRecord:
    """A sheet as its row says."""

    id: SheetId
    name: str
    folder: str
    stage: SheetStage
    attempt: int
    close_asked: bool
    opened: datetime
    since: datetime
    printer: str = ""
    """As of a job: all on it are prepared for this printer."""
    film_width_mm: float = 0.0
    length_mm: float = 0.0
    boot: str | None = None
    why: str = ""
    held_at: SheetStage | None = None
    """The stage from which it was held."""
    facts: dict[str, Any] = field(default_factory=dict)
    """What laying it out said of the film, and what composing found: the estimate, digests."""

    @property
    def film_why(self) -> str:
        """Why it lies on its film; empty where there was no choice, or it is not laid out."""
        return str(self.facts.get("film", {}).get("why", ""))

    @property
    def rule_digest(self) -> str:
        """Of the rule that it was laid out by; empty where that is not known."""
        return str(self.facts.get("rule", ""))

    @property
    def place(self) -> str:
        """Where it is handed over, from the shop's output folder: each printer of several has a folder of its own."""
        return "/".join(filter(None, (self.folder, self.printer, self.name)))


@dataclass(frozen=True)
class Event:
    """One line of the journal: what happened, when, to what."""

    seq: int
    at: datetime
    job: JobId | None
    sheet: SheetId | None
    kind: str
    facts: dict[str, Any]


@dataclass(frozen=True)
class Folded:
    """What a job's events alone say of it."""

    stage: JobStage
    attempt: int
    approved: bool

    @classmethod
    def of(cls, events: Iterable[Event]) -> Self | None:
        """Fold a job's events, oldest first; None where there are none."""
        state: Self | None = None
        for event in events:
            stage = JobStage(event.facts["stage"]) if "stage" in event.facts else None
            if state is None:
                state = cls(stage or JobStage.CLAIMED, 0, False)
                continue
            attempt = state.attempt + {"attempt": 1, DEFERRED: -1}.get(event.kind, 0)
            if stage is JobStage.CLAIMED:
                attempt = 0
            state = cls(stage or state.stage, attempt, state.approved or event.kind == "released")
        return state


def shown(name: str) -> str:
    """A file name for people: bytes that are not UTF-8 replaced, control characters escaped."""
    text = os.fsencode(name).decode("utf-8", "replace")
    return "".join(sign if sign.isprintable() else sign.encode("unicode_escape").decode() for sign in text)


def placement_values(placement: Placement) -> dict[str, Any]:
    """A placement's columns."""
    return {
        "x_mm": placement.x_mm,
        "y_mm": placement.y_mm,
        "width_mm": placement.width_mm,
        "height_mm": placement.height_mm,
        "rotation_deg": placement.rotation_deg,
        "part": placement.part,
        "label": None if placement.label is None else to_json(asdict(placement.label)),
    }


def spot(text: str | None) -> Spot | None:
    """The inverse of what `placement_values` writes of a label."""
    return None if text is None else Spot(**json.loads(text))


def to_json(values: Any) -> str:
    """Compact JSON text for a column."""
    return json.dumps(values, ensure_ascii=True, separators=(",", ":"))
