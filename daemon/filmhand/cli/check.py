"""`filmhand check FILE --rule RULE`: look at a file as its hot folder would; nothing is moved."""

import tempfile
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
from filmhand.preflight.finding import Finding, Severity
from filmhand.rules import RuleFile, load_printer
from filmhand.service.capped import Caps, Failed, run_capped
from filmhand.service.prepare import Prepared, PrepareTask, prepare
from filmhand.shop import ShopSettings

_STYLES = {Severity.NOTE: "dim", Severity.WARN: "yellow", Severity.HOLD: "magenta", Severity.REJECT: "red"}


def check(file: Path, *, rule: str, printer: Path | None) -> ExitCode:
    """Say what was found; FOUND_FAULTS when the hot folder would hold or reject the file."""
    if not file.is_file():
        raise NotFoundError("There is no such file", file=file, next_step="Name the artwork to look at")
    path = Path(rule) if Path(rule).is_file() else starter.rule(rule)
    printer_path = printer or Path(str(files("filmhand") / "templates" / "printer.toml"))
    prepared = _prepared(file, RuleFile.load(path), printer_path)
    console = Console(soft_wrap=True)
    for finding in prepared.report.findings:
        console.print(Text(_line(finding), _STYLES[finding.severity]))
    if "width_mm" in prepared.facts:
        console.print(f"Printed {prepared.facts['width_mm']:.1f} × {prepared.facts['height_mm']:.1f} mm.")
    verdicts = {Severity.HOLD: "It would be held for a person.", Severity.REJECT: "It would go back to the customer."}
    console.print(verdicts.get(prepared.verdict, "It would be printed."))
    return ExitCode.OK if prepared.verdict < Severity.HOLD else ExitCode.FOUND_FAULTS


def _line(finding: Finding) -> str:
    return f"{finding.severity.name.lower()}: {finding.message} {finding.advice or ''}".rstrip()


def _prepared(file: Path, rule: RuleFile, printer_path: Path) -> Prepared:
    settings = ShopSettings()
    ticket = read_ticket(file.name, ticket_file=_ticket_text(file), rule=rule.general)
    faults = (ticket,) if isinstance(ticket, Finding) else ()
    with tempfile.TemporaryDirectory(prefix="filmhand-") as folder:
        task = PrepareTask(
            original=file.absolute(),
            ticket=Ticket(copies=1) if isinstance(ticket, Finding) else ticket,
            rule=rule,
            printer=load_printer(printer_path),
            settled_faults=faults,
            approved=False,
            base=printer_path.parent,
            cache=Path(folder),
            target=Path(folder) / "checked",
        )
        outcome = run_capped(prepare, task, caps=Caps(settings.memory_mib << 20, settings.seconds_per_file))
    if isinstance(outcome, Failed):
        raise MachineError(
            f"The file could not be looked at: {outcome.cause} ({outcome.detail.strip().splitlines()[-1]})",
            file=file,
            next_step="Open it in the program that made it and save it anew",
        )
    return outcome.value


def _ticket_text(file: Path) -> str | None:
    ticket = tickets_by_artwork(list_folder(file.absolute().parent, "")).get(file.name)
    return None if ticket is None else file.with_name(ticket.name).read_text("utf-8", "replace")
