"""`filmhand release|refuse SHOP ID` and `filmhand close SHOP NAME`: what a person says, to a running daemon or without one."""

from pathlib import Path

from rich.console import Console

from filmhand.errors import NotFoundError, ShopBusyError
from filmhand.journal import jobs, sheets
from filmhand.journal.journal import Journal
from filmhand.journal.states import JobStage, SheetStage
from filmhand.service import logs, loop, requests
from filmhand.service.clock import SystemClock
from filmhand.service.requests import Verb
from filmhand.shop import Shop, load_house


def release(root: Path, name: str) -> None:
    """Yes to what is held. NotFoundError when nothing is held under that name."""
    _answer(root, Verb.RELEASE, name)


def refuse(root: Path, name: str) -> None:
    """No to what is held. NotFoundError when nothing is held under that name."""
    _answer(root, Verb.REFUSE, name)


def close(root: Path, name: str) -> None:
    """Close a hot folder's open sheet. NotFoundError when none is open."""
    shop = Shop.at(root)
    with Journal.read_only(shop.journal) as journal:
        if not any(sheet.folder == name for sheet in sheets.by_stage(journal, SheetStage.OPEN)):
            raise NotFoundError(f"No sheet is open for {name!r}", next_step=f"See: filmhand status {root}")
    _ask(shop, Verb.CLOSE, name, "The sheet is closed by the daemon now; without one, by the next `filmhand run`.")


def _answer(root: Path, verb: Verb, name: str) -> None:
    shop = Shop.at(root)
    with Journal.read_only(shop.journal) as journal:
        job, sheet = jobs.find(journal, name), sheets.find(journal, name)
        held = (job is not None and job.stage is JobStage.HELD) or (sheet is not None and sheet.stage is SheetStage.HELD)
    if not held:
        raise NotFoundError(f"Nothing is held under {name!r}", next_step=f"See what is held: filmhand status {root}")
    _ask(shop, verb, name, f"{name}: {verb}d.")


def _ask(shop: Shop, verb: Verb, target: str, said: str) -> None:
    """Leave the request; carry it out here when no daemon has the shop."""
    requests.ask(shop.requests, verb, target)
    house = load_house(shop)
    try:
        with loop.hand_for(shop, house, SystemClock()) as hand:
            logs.set_up(shop.logs, terminal=False)
            loop.carry_out_answers(hand)
    except ShopBusyError:
        said = f"{target}: asked; the daemon does it within {house.settings.listing:.0f} s."
    Console(soft_wrap=True).print(said)
