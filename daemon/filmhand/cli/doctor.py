"""`filmhand doctor SHOP`: whether this computer lets the shop work, and what to do where it does not."""

import json
from dataclasses import asdict
from pathlib import Path
from typing import Final

from rich.console import Console
from rich.table import Table
from rich.text import Text

from filmhand.errors import ExitCode, MachineError
from filmhand.service.clock import SystemClock
from filmhand.shop import Shop
from filmhand.upkeep.doctor import State, diagnose, exit_code
from filmhand.upkeep.doctor_facts import gather

_WORDS: Final = {State.OK: "ok", State.WARN: "warn", State.WRONG: "wrong"}
_STYLES: Final = {State.OK: "green", State.WARN: "yellow", State.WRONG: "bold red"}


def doctor(root: Path, *, as_json: bool) -> ExitCode:
    """Say it; the exit code goes by the worst. A running daemon is not disturbed."""
    try:
        shop = Shop.at(root)
    except PermissionError:
        next_step = "Ask as the service's user, or mend the permissions of the folder and of those above it"
        raise MachineError("This user may not look into the shop", file=root, next_step=next_step) from None
    found = diagnose(gather(shop, SystemClock()))
    if as_json:
        facts = [
            asdict(one) | {"state": _WORDS[one.state], "code": int(one.code if one.state is State.WRONG else 0)} for one in found
        ]
        print(json.dumps({"exit_code": int(exit_code(found)), "findings": facts}, indent=1, ensure_ascii=True))
        return exit_code(found)
    table = Table("what", "", "what was seen", "what to do next")
    for one in found:
        word = Text(_WORDS[one.state], style=_STYLES[one.state])
        table.add_row(Text(one.what), word, Text(one.said), Text(one.next_step))
    Console().print(table)
    return exit_code(found)
