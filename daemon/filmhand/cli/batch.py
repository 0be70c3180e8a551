"""`filmhand batch SHOP`: prepare what is there, close every sheet, end."""

import sys
from pathlib import Path

from rich.console import Console

from filmhand.journal.journal import Journal
from filmhand.notices import report
from filmhand.service import logs, loop, reload
from filmhand.service.clock import SystemClock
from filmhand.service.getting_ready import get_ready
from filmhand.service.hand import Hand
from filmhand.shop import Shop


def batch(root: Path) -> None:
    """One pass over the hot folders, with progress on a terminal and a report at the end."""
    work_through(Shop.at(root))


def work_through(shop: Shop) -> Path:
    """The same for a shop; returns where the report lies."""
    house, clock, console = reload.load(shop), SystemClock(), Console(stderr=True)
    logs.set_up(shop.logs, terminal=not sys.stderr.isatty())
    begun = clock.now()
    with loop.hand_for(shop, house, clock) as hand, console.status("looking at the hot folders") as status:
        get_ready(house)
        loop.batch(hand, clock=clock, told=lambda hand: status.update(_progress(hand)))
        for place, gone in hand.listings.away.items():
            console.print(f"{place} is offline: {gone.why}", markup=False)
    with Journal.read_only(shop.journal) as journal:
        night = report.gather(journal, since=begun)
    path = report.write(shop, house, night, at=clock.now())
    Console(soft_wrap=True).print(report.as_text(night, path))
    return path


def _progress(hand: Hand) -> str:
    if hand.under_way:
        return f"working: {', '.join(hand.under_way)}"
    return f"waiting for {hand.settling} files to settle" if hand.settling else "looking"
