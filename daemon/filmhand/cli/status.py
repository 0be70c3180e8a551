"""`filmhand status SHOP`: where every job and sheet is."""

from pathlib import Path

from rich.console import Console
from rich.table import Table
from rich.text import Text

from filmhand.journal import jobs, sheets
from filmhand.journal.journal import Journal
from filmhand.journal.states import ACTIVE_JOBS, ACTIVE_SHEETS
from filmhand.shop import Shop


def status(root: Path) -> None:
    """What is under way or waits for a person, and where all copies are. A running daemon is not disturbed."""
    shop, console = Shop.at(root), Console()
    with Journal.read_only(shop.journal) as journal:
        balance = sheets.balance(journal)
        console.print(
            f"Copies ordered {balance.ordered}: delivered {balance.delivered}, on sheets {balance.on_sheets},"
            f" waiting {balance.waiting}, held {balance.held}, rejected {balance.rejected}"
        )
        console.print(_jobs(journal))
        console.print(_sheets(journal))


def _jobs(journal: Journal) -> Table:
    table = Table("id", "hot folder", "file", "copies", "stage", "since", "why", title="Jobs not yet done")
    for job in jobs.by_stage(journal, *ACTIVE_JOBS):
        worst = max(job.findings, key=lambda finding: finding.severity, default=None)
        why = str(worst.message) if worst is not None and worst.severity > 1 else ""
        row = (job.id, job.folder, job.shown_name, str(job.copies), job.stage, f"{job.since:%d %b %H:%M}", why)
        table.add_row(*(Text(cell) for cell in row))
    return table


def _sheets(journal: Journal) -> Table:
    table = Table("name", "stage", "length", "since", "why", title="Sheets not yet delivered")
    for sheet in sheets.by_stage(journal, *ACTIVE_SHEETS):
        length = f"{sheet.length_mm / 1000:.2f} m" if sheet.length_mm else ""
        table.add_row(*(Text(cell) for cell in (sheet.name, sheet.stage, length, f"{sheet.since:%d %b %H:%M}", sheet.why)))
    return table
