"""Sending one notice to one address through apprise, in a process of its own: what hangs there holds nothing up.

The address goes through a pipe, for a process's command line and environment are shown to others. Nothing that apprise logs is
kept, for it may say what is in an address.
"""

import json
import logging
import os
import signal
import subprocess
import sys
from enum import StrEnum
from pathlib import Path
from typing import Any, Final

from filmhand.notices.addresses import Address
from filmhand.notices.outbox import Notice

SECONDS: Final = 40.0
"""Longest time for one letter; apprise itself waits four seconds for a connection and four for each answer."""
_OURS: Final = "FILMHAND_"


class Came(StrEnum):
    """What came of a letter."""

    SENT = "sent"
    REFUSED = "it was not taken, or nobody answered"
    UNKNOWN = "apprise does not know this kind of address, or a package that it needs for it is missing"
    TIME = "there was no answer in time"
    BROKE_OFF = "sending it broke off"


def send(notice: Notice, address: Address, *, seconds: float = SECONDS) -> Came:
    """Send a notice; waits for at most `seconds`. Never raises for the sake of what is on the other side."""
    letter = {"url": address.url, "title": notice.title, "body": notice.body, "page": str(notice.page or ""), "seconds": seconds}
    environment = {name: value for name, value in os.environ.items() if not name.startswith(_OURS)}
    command = [sys.executable, "-m", "filmhand.notices.send"]
    try:
        done = subprocess.run(
            command,
            input=json.dumps(letter).encode(),
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            timeout=seconds,
            env=environment,
            check=False,
        )
        return Came[done.stdout.decode("ascii", "replace").strip()]
    except subprocess.TimeoutExpired:
        return Came.TIME
    except (OSError, KeyError):
        return Came.BROKE_OFF


def main() -> None:
    """The process itself: a letter comes in as JSON, the name of what came of it goes out."""
    letter: dict[str, Any] = json.load(sys.stdin)
    if hasattr(signal, "alarm"):
        signal.alarm(int(letter["seconds"]) + 2)  # should the one that waits for us be gone
    answer, sys.stdout = sys.stdout, sys.stderr  # a plugin that prints must not answer for us
    logging.disable(logging.CRITICAL)
    answer.write(_sent(letter).name)
    answer.flush()


def _sent(letter: dict[str, Any]) -> Came:
    import apprise  # noqa: PLC0415 -- only this process loads it and its hundred services

    service = apprise.Apprise()
    if not service.add(letter["url"]):
        return Came.UNKNOWN
    page = Path(letter["page"]) if letter["page"] else None
    files = apprise.AppriseAttachment(str(page)) if page is not None and page.is_file() else None
    taken = service.notify(
        title=letter["title"], body=letter["body"], body_format=apprise.NotifyFormat.TEXT, attach=files, interpret_escapes=False
    )
    return Came.SENT if taken else Came.REFUSED


if __name__ == "__main__":
    main()
