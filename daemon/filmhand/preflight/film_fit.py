"""Whether the print fits: across the film in one of the rotations allowed, within the longest sheet, within the rule's bounds."""

import math
from typing import Final

from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.marks.sheet_marks import foot_mm, head_mm
from filmhand.preflight.finding import Finding, Severity
from filmhand.rules import Printer, Rule
from filmhand.words import Phrase, Words

NAME: Final = "film_fit"

_ROUNDING_MM: Final = 1e-6
"""Lengths from inches and from ratios of pixels come out equal only to so much."""

_SLACK_MM: Final = 0.1
"""How far past the shop's own bounds nobody minds: whole pixels make proportions miss round numbers by so much."""

_TOO_WIDE: Final = Phrase(
    "The print is {width:.0f} × {height:.0f} mm; however it is turned, the film is only {limit:.0f} mm wide."
)
_TOO_LONG: Final = Phrase("The print is {width:.0f} × {height:.0f} mm; a sheet of film is at most {limit:.0f} mm long.")
_TOO_LARGE: Final = Phrase(
    "The print is {width:.0f} × {height:.0f} mm; the most for this kind of work is {most_width:.0f} × {most_height:.0f} mm."
)
_ADVICE: Final = Phrase("Please order it smaller, at most {width:.0f} × {height:.0f} mm in its proportions, or in two parts.")


def check(artwork: Artwork, size: PrintedSize, *, rule: Rule, printer: Printer) -> tuple[Finding, ...]:  # noqa: ARG001 -- alike
    """A reject for each bound that the printed size passes. Margins and the strips of marks at the ends are taken off first."""
    most_width = max(rule.gang.films, default=printer.film_width) - 2 * printer.margin
    most_length = rule.gang.max_length - 2 * printer.margin - head_mm(rule.gang) - foot_mm(rule.gang)
    turned = [_turned(size, degrees) for degrees in rule.gang.rotate] or [_turned(size, 0)]
    findings = []
    least_across = min(across for across, _ in turned)
    fitting = [along for across, along in turned if across <= most_width + _ROUNDING_MM]
    if not fitting:
        findings.append(_finding(_TOO_WIDE, size, (least_across, most_width)))
    elif min(fitting) > most_length + _ROUNDING_MM:
        findings.append(_finding(_TOO_LONG, size, (min(fitting), most_length)))
    if rule.size.max is not None:
        findings += _beyond_rule(size, rule.size.max)
    return tuple(findings)


def _turned(size: PrintedSize, degrees: float) -> tuple[float, float]:
    """How much a print takes across and along the film, turned."""
    sine, cosine = abs(math.sin(math.radians(degrees))), abs(math.cos(math.radians(degrees)))
    return size.width_mm * cosine + size.height_mm * sine, size.width_mm * sine + size.height_mm * cosine


def _beyond_rule(size: PrintedSize, most: tuple[float, float]) -> list[Finding]:
    """The rule's greatest size, however the print lies."""
    short, long = sorted((size.width_mm, size.height_mm))
    most_short, most_long = sorted(most)
    excess = max(short / most_short, long / most_long)
    if short <= most_short + _SLACK_MM and long <= most_long + _SLACK_MM:
        return []
    is_long = long / most_long >= short / most_short
    message = _TOO_LARGE(width=size.width_mm, height=size.height_mm, most_width=most[0], most_height=most[1])
    value, limit = (long, most_long) if is_long else (short, most_short)
    return [Finding(NAME, Severity.REJECT, message, _advice(size, excess), value, limit, "mm")]


def _finding(form: Phrase, size: PrintedSize, passed: tuple[float, float]) -> Finding:
    value, limit = passed
    message = form(width=size.width_mm, height=size.height_mm, limit=limit)
    return Finding(NAME, Severity.REJECT, message, _advice(size, value / limit), value, limit, "mm")


def _advice(size: PrintedSize, excess: float) -> Words:
    return _ADVICE(width=math.floor(size.width_mm / excess), height=math.floor(size.height_mm / excess))
