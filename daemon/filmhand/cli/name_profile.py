"""Naming the ink model in a printer file's text: the line `profile = "…"` is changed or added, every other byte stays."""

import json
import re
import tomllib
from collections.abc import Iterator
from typing import Any, Final

from filmhand.errors import SettingsError

_BOM: Final = "\ufeff"
_KEY: Final = r"""^[ \t]*(?:profile|"profile"|'profile')[ \t]*=[ \t]*"""
_VALUE: Final = r""""{3}.*?"{3}|'{3}.*?'{3}|"(?:[^"\\\n]|\\.)*"|'[^'\n]*\'"""
_LINE: Final = re.compile(rf"(?P<key>{_KEY})(?P<value>{_VALUE})", re.MULTILINE | re.DOTALL)
_REMARK: Final = re.compile(r"^[ \t]*#[ \t]*profile[ \t]*=.*$", re.MULTILINE)
_HEADER: Final = re.compile(r"(?:^[ \t]*(?:#.*)?\r?\n)*^[ \t]*\[", re.MULTILINE)


def with_profile(text: str, name: str) -> str:
    """A printer file's text, TOML, with `name` as its profile; below a remark that shows how the line is written, if it is new.

    Every way of changing it is read back, and taken only if that name and nothing else has changed. ValueError for text that is
    not TOML; SettingsError, without the file, where no way is found.
    """
    mark = _BOM if text.startswith(_BOM) else ""
    body = text.removeprefix(mark)
    before = tomllib.loads(body)
    wanted = {**before, "profile": name}
    ways = _changed(body, name) if "profile" in before else _added(body, name)
    for way in ways:
        if _values(way) == wanted:
            return mark + way
    raise SettingsError(
        "The profile cannot be named in this file", next_step=f'Write the line profile = "{name}" near its top, by hand'
    )


def _changed(text: str, name: str) -> Iterator[str]:
    """Each place that looks like the line, with the new name in it. Some may stand in other tables, or within longer texts."""
    for line in _LINE.finditer(text):
        yield text[: line.start("value")] + _quoted(name) + text[line.end("value") :]


def _added(text: str, name: str) -> Iterator[str]:
    """The line below the remark on it, above the first table, at the end, or at the top."""
    end = "\r\n" if "\r\n" in text else "\n"
    line = f"profile = {_quoted(name)}"
    for remark in _REMARK.finditer(text):
        at = remark.end() - remark[0].endswith("\r")
        yield f"{text[:at]}{end}{line}{text[at:]}"
    for header in _HEADER.finditer(text):
        yield f"{text[: header.start()]}{line}{end}{text[header.start() :]}"
    yield f"{text}{end}{line}" if text and not text.endswith("\n") else f"{text}{line}{end}"
    yield f"{line}{end}{text}"


def _values(text: str) -> dict[str, Any] | None:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return None


def _quoted(name: str) -> str:
    """A TOML basic string; JSON's escapes are among TOML's."""
    return json.dumps(name, ensure_ascii=False).replace("\x7f", "\\u007f")
