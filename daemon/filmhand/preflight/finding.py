"""A finding: one thing preflight saw, with its measure, its limit, and what to do about it in plain words."""

from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass
from enum import IntEnum
from typing import Any

from filmhand.rules import LengthLimits, Limits
from filmhand.words import Words


class Severity(IntEnum):
    """What a finding does to the job; the worst finding of a report decides."""

    NOTE = 0
    """Said, nothing more."""
    WARN = 1
    """Printed, and said."""
    HOLD = 2
    """Waits for a person's yes or no."""
    REJECT = 3
    """Goes back to the customer."""


@dataclass(frozen=True)
class Box:
    """A place in the picture as fractions of its width and height, from the top left corner, 0 to 1."""

    left: float
    top: float
    width: float
    height: float


@dataclass(frozen=True)
class Finding:
    """One preflight result. `check` is the check's name (a file in preflight/); `value` and `limit` share `unit`."""

    check: str
    severity: Severity
    message: Words
    """What was seen, one sentence, for the customer."""
    advice: Words | None = None
    """What to do next, one sentence; None for a note that needs nothing."""
    value: float | None = None
    limit: float | None = None
    unit: str = ""
    where: tuple[Box, ...] = ()

    def to_json(self) -> dict[str, Any]:
        """Plain values for JSON, the severity by its lower-case name; the words unsaid, for any language."""
        return {
            "check": self.check,
            "severity": self.severity.name.lower(),
            "message": self.message.to_json(),
            "advice": None if self.advice is None else self.advice.to_json(),
            "value": self.value,
            "limit": self.limit,
            "unit": self.unit,
            "where": [asdict(box) for box in self.where],
        }

    @classmethod
    def from_json(cls, values: dict[str, Any]) -> "Finding":
        """The inverse of `to_json`."""
        return cls(
            values["check"],
            Severity[values["severity"].upper()],
            Words.from_json(values["message"]),
            Words.from_json(values["advice"]) if values["advice"] else None,
            values["value"],
            values["limit"],
            values["unit"],
            tuple(Box(**box) for box in values["where"]),
        )


@dataclass(frozen=True)
class Report:
    """All that preflight saw of one artwork."""

    findings: tuple[Finding, ...] = ()

    @property
    def verdict(self) -> Severity:
        """The worst severity; NOTE where nothing was found."""
        return max((finding.severity for finding in self.findings), default=Severity.NOTE)


def numbered(findings: Iterable[Finding]) -> tuple[tuple[int | None, Finding], ...]:
    """Findings worst first, those that are more than a note numbered from 1: as the note lists and the picture marks them."""
    ordered = sorted(findings, key=lambda finding: -finding.severity)
    return tuple((place if finding.severity > Severity.NOTE else None, finding) for place, finding in enumerate(ordered, 1))


def passed_above(limits: Limits | LengthLimits, value: float) -> tuple[Severity, float] | None:
    """The worst limit that a value lies above, with that limit; None if it passes none. Nothing is rounded first."""
    return _worst(limits, lambda limit: value > limit)


def passed_below(limits: Limits | LengthLimits, value: float) -> tuple[Severity, float] | None:
    """The worst limit that a value lies below, with that limit; None if it passes none. Nothing is rounded first."""
    return _worst(limits, lambda limit: value < limit)


def _worst(limits: Limits | LengthLimits, is_past: Callable[[float], bool]) -> tuple[Severity, float] | None:
    for severity, limit in (
        (Severity.REJECT, limits.reject),
        (Severity.HOLD, limits.hold),
        (Severity.WARN, limits.warn),
    ):
        if limit is not None and is_past(limit):
            return severity, limit
    return None
