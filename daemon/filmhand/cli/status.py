"""`filmhand status SHOP`: where every job and sheet is."""

from collections.abc import Mapping
from pathlib import Path

from rich.console import Console
from rich.table import Table
from rich.text import Text

from filmhand.errors import MachineError
from filmhand.intake.away import Away
from filmhand.journal import jobs, sheets
from filmhand.journal.journal import Journal
from filmhand.journal.states import ACTIVE_JOBS, ACTIVE_SHEETS
from filmhand.service.clock import SystemClock, boot_id
from filmhand.service.listings import remembered
from filmhand.service.notify_manager import HEALTHY_S, heartbeat_age
from filmhand.shop import Shop


def healthy(root: Path) -> None:
    """For a container's health check: whether a daemon moved on a short while ago. MachineError where none did."""
    shop = Shop.at(root)
    age = heartbeat_age(shop.heartbeat, boot=boot_id(), now=SystemClock().monotonic())
    if age is None:
        raise MachineError("No filmhand runs in this shop", file=shop.root, next_step=f"Start it: filmhand run {shop.root}")
    if age > HEALTHY_S:
        raise MachineError(
            f"filmhand has not moved on for {age / 60:.0f} min", file=shop.root, next_step="Look at the log, and start it anew"
        )
    print(f"filmhand moved on {age:.0f} s ago")


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
    away = remembered(shop).away
    if away:
        console.print(_folders(away))


def _jobs(journal: Journal) -> Table:
    table = Table("id", "hot folder", "file", "copies", "stage", "since", "why", title="Jobs not yet done")
    for job in jobs.by_stage(journal, *ACTIVE_JOBS):
        why = str(job.worst.message) if job.worst is not None and job.worst.severity > 1 else ""
        row = (job.id, job.folder, job.shown_name, str(job.copies), job.stage, f"{job.since:%d %b %H:%M}", why)
        table.add_row(*(Text(cell) for cell in row))
    return table


def _folders(away: Mapping[str, Away]) -> Table:
    table = Table("folder", "since", "why", title="Folders offline at the last look")
    for place, gone in sorted(away.items()):
        table.add_row(*(Text(cell) for cell in (place, f"{gone.since:%d %b %H:%M}", gone.why)))
    return table


def _sheets(journal: Journal) -> Table:
    table = Table("name", "stage", "length", "since", "why", title="Sheets not yet delivered")
    for sheet in sheets.by_stage(journal, *ACTIVE_SHEETS):
        length = f"{sheet.length_mm / 1000:.2f} m" if sheet.length_mm else ""
        table.add_row(*(Text(cell) for cell in (sheet.name, sheet.stage, length, f"{sheet.since:%d %b %H:%M}", sheet.why)))
    return table
