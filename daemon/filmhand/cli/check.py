"""`filmhand check FILE --rule RULE`: look at a file as its hot folder would; nothing is moved."""

import tempfile
from dataclasses import replace
from importlib.resources import files
from pathlib import Path

from rich.console import Console
from rich.text import Text

from filmhand import starter
from filmhand.errors import ExitCode, MachineError, NotFoundError
from filmhand.intake.listing import list_folder
from filmhand.intake.pairing import tickets_by_artwork
from filmhand.intake.read_ticket import read_ticket
from filmhand.intake.ticket import Ticket
from filmhand.intake.unpack import Part
from filmhand.preflight.finding import Finding, Severity
from filmhand.rules import RuleFile, load_printer
from filmhand.shop import ShopSettings, load_tables
from filmhand.work.capped import Caps, Failed, run_capped
from filmhand.work.colour_files import check_colour_files
from filmhand.work.prepare import PARTS, Prepared, PrepareTask, prepare
from filmhand.work.reach import reach_of

_STYLES = {Severity.NOTE: "dim", Severity.WARN: "yellow", Severity.HOLD: "magenta", Severity.REJECT: "red"}


def check(file: Path, *, rule: str, printer: Path | None) -> ExitCode:
    """Say what was found; FOUND_FAULTS when the hot folder would hold or reject the file, or one that it holds."""
    if not file.is_file():
        raise NotFoundError("There is no such file", file=file, next_step="Name the artwork to look at")
    path = Path(rule) if Path(rule).is_file() else starter.rule(rule)
    console = Console(soft_wrap=True)
    with tempfile.TemporaryDirectory(prefix="filmhand-") as folder:
        task = _task(file, path, printer or Path(str(files("filmhand") / "templates" / "printer.toml")), Path(folder))
        prepared = _prepared(task)
        verdicts = [_said(prepared, console)]
        for part in prepared.parts:
            console.print(f"\n{part.name}")
            verdicts.append(_said(_prepared(_part_of(task, part)), console))
    return ExitCode.OK if max(verdicts) < Severity.HOLD else ExitCode.FOUND_FAULTS


def _said(prepared: Prepared, console: Console) -> Severity:
    for finding in prepared.report.findings:
        console.print(Text(_line(finding), _STYLES[finding.severity]))
    if "width_mm" in prepared.facts:
        console.print(f"Printed {prepared.facts['width_mm']:.1f} × {prepared.facts['height_mm']:.1f} mm.")
    if not prepared.parts:
        verdicts = {Severity.HOLD: "It would be held for a person.", Severity.REJECT: "It would go back to the customer."}
        console.print(verdicts.get(prepared.verdict, "It would be printed."))
    return prepared.verdict


def _line(finding: Finding) -> str:
    return f"{finding.severity.name.lower()}: {finding.message} {finding.advice or ''}".rstrip()


def _task(file: Path, rule_path: Path, printer_path: Path, folder: Path) -> PrepareTask:
    rule, printer = RuleFile.load(rule_path), load_printer(printer_path)
    check_colour_files(rule, printer=printer)
    tables = load_tables(rule.base)  # a rule of a shop lies in its folder `rules`
    ticket = read_ticket(file.name, ticket_file=_ticket_text(file), rule=rule.general, tables=tables)
    return PrepareTask(
        original=file.absolute(),
        name=file.name,
        page=0,
        is_part=False,
        ticket=Ticket(copies=1) if isinstance(ticket, Finding) else ticket,
        rule=rule,
        printer=printer,
        known=(ticket,) if isinstance(ticket, Finding) else (),
        approved=False,
        base=printer_path.parent,
        cache=folder,
        target=folder / "checked",
        colours=tables.colours,
    )


def _part_of(task: PrepareTask, part: Part) -> PrepareTask:
    original = task.target / PARTS / part.file if part.file else task.original
    target = task.cache / f"checked {part.file or part.page}"
    return replace(task, original=original, name=part.name, page=part.page, is_part=True, target=target)


def _prepared(task: PrepareTask) -> Prepared:
    settings = ShopSettings()
    caps = Caps(settings.memory_mib << 20, settings.seconds_per_file, settings.output_mib << 20)
    outcome = run_capped(prepare, task, caps=caps, reach=reach_of(task))
    if isinstance(outcome, Failed):
        raise MachineError(
            f"The file could not be looked at: {outcome.cause} ({outcome.detail.strip().splitlines()[-1]})",
            file=task.original,
            next_step="Open it in the program that made it and save it anew",
        )
    return outcome.value


def _ticket_text(file: Path) -> str | None:
    ticket = tickets_by_artwork(list_folder(file.absolute().parent, "")).get(file.name)
    return None if ticket is None else file.with_name(ticket.name).read_text("utf-8", "replace")
