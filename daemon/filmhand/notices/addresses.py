"""Where notices go: addresses in apprise's writing. They hold passwords: nothing but `Address.url` ever says one.

They come from the environment, or from a file of which only its owner may read; never from shop.toml,
which people show one another.
"""

import os
import re
import stat
from collections.abc import MutableMapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Final
from urllib.parse import urlsplit

from filmhand.errors import SettingsError

VARIABLE: Final = "FILMHAND_NOTIFY"
FILE: Final = "notify.txt"

HOST_SCHEMES: Final = frozenset({"form", "json", "mailto", "mailtos", "mmost", "mqtt", "mqtts", "rocket", "xml"}) | {
    *("forms", "jsons", "mmosts", "rockets", "xmls", "gotify", "gotifys")
}
"""Kinds of address that name a host. In those of most services a token stands in the host's place (apprise's `templates`)."""

_HOST: Final = re.compile(r"[A-Za-z0-9.-]+")
_OTHERS_MAY: Final = stat.S_IRWXG | stat.S_IRWXO


@dataclass(frozen=True)
class Address:
    """One address. Shown, it says its kind and at most its host."""

    url: str = field(repr=False)

    @property
    def shown(self) -> str:
        """For logs and people: the kind, and the host where it cannot be a secret."""
        scheme, found, _ = self.url.partition("://")
        if not found or not re.fullmatch(r"[A-Za-z][A-Za-z0-9+]*", scheme):
            return "an address that cannot be read"
        return f"{scheme}://{_host(self.url) if scheme.lower() in HOST_SCHEMES else '…'}"

    def __str__(self) -> str:
        return self.shown


def take_from_environment(environment: MutableMapping[str, str]) -> tuple[Address, ...]:
    """The addresses of FILMHAND_NOTIFY, parted by blanks. The variable is taken out: processes that we start need not know it."""
    return tuple(Address(url) for url in environment.pop(VARIABLE, "").split())


def read_file(root: Path) -> tuple[Address, ...]:
    """The addresses of notify.txt, one a line or parted by blanks; lines that begin with # are remarks.

    SettingsError when it is not there, holds none, or others may read it (what the file's mode says; not on Windows).
    """
    path = root / FILE
    try:
        descriptor = os.open(path, os.O_RDONLY | getattr(os, "O_CLOEXEC", 0))
    except OSError as problem:
        raise SettingsError(
            f"The addresses for notices cannot be read: {problem.strerror}",
            file=path,
            next_step='Write the file, one address a line, for the daemon\'s user alone; or write notify_from = "nowhere"',
        ) from None
    with os.fdopen(descriptor, encoding="utf-8", errors="replace") as file:
        if os.name != "nt" and os.fstat(descriptor).st_mode & _OTHERS_MAY:
            raise SettingsError(
                "Others than its owner may read the addresses for notices, and these hold passwords",
                file=path,
                next_step=f"Close it to them: chmod 600 {path}. Change the passwords if others have been at this computer",
            )
        lines = [line for line in file.read().splitlines() if not line.lstrip().startswith("#")]
    found = tuple(Address(url) for line in lines for url in line.split())
    if not found:
        raise SettingsError(
            "There is no address for notices in this file",
            file=path,
            next_step='Write one a line, such as mailtos://…; or write notify_from = "nowhere" in shop.toml',
        )
    return found


def _host(url: str) -> str:
    """The host, where the address can only be read in one way: an unescaped sign in a password must not bring part of it out."""
    try:
        parts = urlsplit(url)
        host = parts.hostname or ""
        _ = parts.port
    except ValueError:
        return "…"
    is_plain = url.count("@") <= 1 and ("@" in url) == ("@" in parts.netloc)
    return host if is_plain and _HOST.fullmatch(host) else "…"
