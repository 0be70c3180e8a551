"""What the command line asks of a running daemon: one small file a request, named once whole, removed once done."""

import json
import os
import secrets
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path

from filmhand import durable


class Verb(StrEnum):
    """What can be asked."""

    RELEASE = "release"
    REFUSE = "refuse"
    CLOSE = "close"


@dataclass(frozen=True)
class Request:
    """A verb and what it is about: a job's id, a sheet's name, or a hot folder's name."""

    verb: Verb
    target: str
    path: Path


def ask(folder: Path, verb: Verb, target: str) -> None:
    """Leave a request for the daemon."""
    durable.write(folder / f"{secrets.token_hex(8)}.json", json.dumps({"verb": verb, "target": target}).encode())


def asked(folder: Path) -> tuple[Request, ...]:
    """Requests waiting, oldest name first. One that cannot be read is set aside under another ending."""
    requests = []
    for path in sorted(folder.glob("*.json")):
        try:
            values = json.loads(path.read_bytes())
            requests.append(Request(Verb(values["verb"]), str(values["target"]), path))
        except (ValueError, KeyError, TypeError):
            path.rename(path.with_suffix(".unreadable"))
    return tuple(requests)


def done(request: Request) -> None:
    """The request was carried out."""
    request.path.unlink(missing_ok=True)
    if os.name != "nt":
        durable.sync_folder(request.path.parent)
