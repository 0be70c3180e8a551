"""A made artwork taken the way that a customer's file takes, as far as its findings go."""

import time
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.artwork.open import open_artwork
from filmhand.artwork.size import at_print_resolution, printed_size
from filmhand.colour.choose import ink_model
from filmhand.intake.ticket import Ticket
from filmhand.mending.mend import cleared, strengthened
from filmhand.preflight import out_of_gamut
from filmhand.preflight.finding import Finding
from filmhand.preflight.inspect import inspect
from filmhand.rules import Printer, Rule
from filmhand.separation.separate import out_of_gamut_percent
from filmhand.separation.table import cached_table

from .model import BENCH_RULE, PRINTER, File, Made


@dataclass(frozen=True)
class Seen:
    """All findings; those that only the checks added; the artwork as they saw it, if it could be opened."""

    findings: tuple[Finding, ...]
    left: tuple[Finding, ...]
    seconds: float
    artwork: Artwork | None = None


def rule_of(made: Made) -> Rule:
    """The bench's rule with what this artwork's says otherwise."""
    return Rule.model_validate(_merged(BENCH_RULE, made.rule))


def look(made: Made, sent: File, folder: Path) -> Seen:
    """Write the file into a folder and look at it; the folder keeps colour tables too."""
    path = folder / f"{made.name}.{sent.ending}"
    path.write_bytes(sent.content)
    rule, printer, ticket = rule_of(made), Printer.model_validate(PRINTER), Ticket.model_validate(made.ticket)
    began = time.perf_counter()
    try:
        artwork = open_artwork(path, ticket=ticket, rule=rule, printer=printer)
        if isinstance(artwork, Finding):
            return Seen((artwork,), (artwork,), time.perf_counter() - began)
        artwork = cleared(artwork, rule=rule)
        size = printed_size(artwork, ticket=ticket, rule=rule)
        artwork = strengthened(artwork, size, rule=rule)
        findings = inspect(artwork, size, rule=rule, printer=printer).findings
        findings += _gamut(artwork, size, rule, printer, folder)
    finally:
        path.unlink()
    left = tuple(finding for finding in findings if finding not in artwork.findings)
    return Seen(findings, left, time.perf_counter() - began, artwork)


def _gamut(artwork: Artwork, size: PrintedSize, rule: Rule, printer: Printer, folder: Path) -> tuple[Finding, ...]:
    """As preparing does it, for artwork that a person has let pass. Mends play no part in colour tables."""
    reduced = at_print_resolution(replace(artwork, findings=()), size, printer=printer)
    model = ink_model(printer, base=folder)
    table = cached_table(reduced.profile, model=model, garment=rule.garment, rule=rule, cache=folder / "tables")
    return out_of_gamut.check(out_of_gamut_percent(reduced, table), limits=rule.preflight.out_of_gamut)


def _merged(values: Mapping[str, Any], changes: Mapping[str, Any]) -> dict[str, Any]:
    """`changes` laid over `values`, table by table."""
    result = dict(values)
    for key, change in changes.items():
        old = result.get(key)
        result[key] = _merged(old, change) if isinstance(old, Mapping) and isinstance(change, Mapping) else change
    return result
