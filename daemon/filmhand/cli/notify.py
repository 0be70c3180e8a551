"""`filmhand notify SHOP`: where notices go, without showing it, and whether they arrive."""

import os
from pathlib import Path

from rich.console import Console

from filmhand.errors import MachineError
from filmhand.notices import night_words as words
from filmhand.notices.letter_box import LetterBox
from filmhand.notices.outbox import Notice
from filmhand.notices.send import Came, send
from filmhand.shop import Shop, load_house


def notify(root: Path, *, test: bool) -> None:
    """Say of each address its kind, and with `test` what came of a notice to it. MachineError when one did not arrive."""
    shop, console = Shop.at(root), Console(soft_wrap=True, highlight=False, markup=False)
    settings = load_house(shop).settings
    box = LetterBox(shop, os.environ)
    box.follow(settings)
    addresses = box()
    if not addresses:
        console.print(words.NO_ADDRESS.format(whence=settings.notify_from))
        return
    notice = Notice(f"{settings.name}: {words.TEST_TITLE}", words.TEST_BODY.format(shop=settings.name))
    came = [send(notice, address) if test else None for address in addresses]
    for place, (address, outcome) in enumerate(zip(addresses, came, strict=True), 1):
        console.print(f"{place}. {address.shown}" + ("" if outcome is None else f": {outcome.value}"))
    missed = sum(outcome not in (None, Came.SENT) for outcome in came)
    if missed:
        raise MachineError(words.NOT_ARRIVED.format(missed=missed, of=len(came)), next_step=words.NOT_ARRIVED_DO)
