"""A made artwork taken the way that a customer's file takes, as far as its findings go."""

import time
from dataclasses import dataclass
from pathlib import Path

from filmhand.artwork.model import Artwork
from filmhand.artwork.open import open_artwork
from filmhand.artwork.size import at_print_resolution
from filmhand.colour.choose import ink_model
from filmhand.intake.ticket import Ticket
from filmhand.preflight.finding import Finding
from filmhand.rules import Printer, Rule, RuleFile, merged
from filmhand.work import prepare

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
    return Rule.model_validate(merged(BENCH_RULE, made.rule))


def look(made: Made, sent: File, folder: Path) -> Seen:
    """Write the file into a folder and look at it; the folder keeps colour tables too, and several processes may share it."""
    path = folder / f"{made.name}.{sent.ending}"
    path.write_bytes(sent.content)
    task = _task(made, path)
    task.target.mkdir()
    began = time.perf_counter()
    opened = _opened(task)
    path.unlink()
    if isinstance(opened, Finding):
        return Seen((opened,), (opened,), time.perf_counter() - began)
    looked = prepare.looked_over(opened, task)
    artwork, findings = looked.artwork, (*looked.report.findings, *_gamut(looked, task))
    left = tuple(finding for finding in findings if finding not in artwork.findings)
    return Seen(findings, left, time.perf_counter() - began, artwork)


def _task(made: Made, path: Path) -> prepare.PrepareTask:
    """As the service would set it for a file that a person has let pass."""
    return prepare.PrepareTask(
        original=path,
        name=path.name,
        page=0,
        is_part=False,
        ticket=Ticket.model_validate(made.ticket),
        rule=RuleFile("", path, {}, (), rule_of(made)),
        printer=Printer.model_validate(PRINTER),
        known=(),
        approved=True,
        base=path.parent,
        cache=path.parent / "tables",
        target=path.with_suffix(".target"),
    )


def _opened(task: prepare.PrepareTask) -> Artwork | Finding:
    parts = prepare.parts_in(task)
    if isinstance(parts, Finding):
        return parts
    return open_artwork(task.original, ticket=task.ticket, rule=task.rule.general, printer=task.printer)


def _gamut(looked: prepare.Looked, task: prepare.PrepareTask) -> tuple[Finding, ...]:
    """What preparing sees of colours out of reach, where nothing has sent the artwork back before."""
    if not prepare.may_print(looked.report, task):
        return ()
    reduced = at_print_resolution(looked.artwork, looked.size, printer=task.printer)
    table = prepare.table_for(reduced, looked.rule, task, model=ink_model(task.printer, base=task.base))
    return prepare.colours_out_of_reach(reduced, table, looked.rule)
