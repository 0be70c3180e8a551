"""What the checks said of the set against what is true of it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median

from filmhand.preflight.finding import Box, Finding, Severity

from .model import CHECKS, PLACED, Boxes, File, Made


@dataclass(frozen=True)
class Result:
    """One artwork: what is true of it and what was said. `failed`: the error that looking at it ended with."""

    made: Made
    sent: File
    findings: tuple[Finding, ...]
    left: tuple[Finding, ...]
    seconds: float
    failed: str = ""

    @property
    def said(self) -> frozenset[str]:
        """Checks that spoke at WARN or worse."""
        return frozenset(finding.check for finding in self.findings if finding.severity >= Severity.WARN)

    @property
    def not_mended(self) -> frozenset[str]:
        """Checks that still speak of what the rule should have mended."""
        return self.made.mended & {finding.check for finding in self.left if finding.severity >= Severity.WARN}


@dataclass(frozen=True)
class Score:
    """One check over the set. `overlaps`: of each true place with the mark that meets it best, and whose artwork it is in."""

    check: str
    faulty: int
    missed: tuple[str, ...]
    without: int
    false: tuple[str, ...]
    overlaps: tuple[tuple[float, str], ...]

    @property
    def recall(self) -> float:
        """Share of the faults that were found; NaN where the set has none."""
        return 1 - len(self.missed) / self.faulty if self.faulty else float("nan")

    @property
    def false_rate(self) -> float:
        """Share of the artworks without the fault of which the check spoke."""
        return len(self.false) / self.without if self.without else float("nan")

    @property
    def median_overlap(self) -> float:
        """NaN where places are not true of anything."""
        return median(value for value, _ in self.overlaps) if self.overlaps else float("nan")


def scores(results: Sequence[Result]) -> tuple[Score, ...]:
    """A score for each check of the set, and for each that spoke besides."""
    others = sorted({check for result in results for check in result.said} - set(CHECKS))
    return tuple(_score(check, results) for check in (*CHECKS, *others))


def _score(check: str, results: Sequence[Result]) -> Score:
    sure = [result for result in results if check not in result.made.unsure]
    faulty = [result for result in sure if check in result.made.faults]
    without = [result for result in sure if check not in result.made.faults]
    return Score(
        check,
        len(faulty),
        tuple(result.made.name for result in faulty if check not in result.said),
        len(without),
        tuple(result.made.name for result in without if check in result.said),
        tuple(overlap for result in faulty for overlap in _overlaps(check, result)) if check in PLACED else (),
    )


def _overlaps(check: str, result: Result) -> Iterable[tuple[float, str]]:
    if check in result.made.mended:
        return  # what is gone has no place
    marks = marks_of(check, result.findings)
    for place in result.sent.places.get(check, ()):
        yield max((overlap(place, mark) for mark in marks), default=0.0), result.made.name


def marks_of(check: str, findings: Iterable[Finding]) -> Boxes:
    """The places that a check marked at WARN or worse."""
    return tuple(
        box for finding in findings if finding.check == check and finding.severity >= Severity.WARN for box in finding.where
    )


def overlap(one: Box, other: Box) -> float:
    """Intersection over union of two boxes: 1 where they are the same, 0 where they do not meet."""
    width = min(one.left + one.width, other.left + other.width) - max(one.left, other.left)
    height = min(one.top + one.height, other.top + other.height) - max(one.top, other.top)
    if width <= 0 or height <= 0:
        return 0.0
    both = width * height
    return both / (one.width * one.height + other.width * other.height - both)
