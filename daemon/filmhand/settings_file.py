"""TOML settings files of any kind: read, parsed, and checked against a model, or refused with file, line, key and expectation."""

import re
import tomllib
from collections.abc import Mapping, Sequence
from itertools import takewhile
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from filmhand.errors import SettingsError

Model = TypeVar("Model", bound=BaseModel)


def read(path: Path) -> str:
    """The text of a settings file. SettingsError says why it cannot be had."""
    try:
        return path.read_text("utf-8-sig")
    except FileNotFoundError:
        raise SettingsError("This settings file is missing", file=path, next_step="Put it back, or make the shop anew") from None
    except (OSError, UnicodeDecodeError) as problem:
        raise SettingsError(
            f"This settings file cannot be read: {problem}",
            file=path,
            next_step="Save it as UTF-8 text that filmhand may read",
        ) from None


def parse(text: str, path: Path) -> dict[str, Any]:
    """The values in TOML text. SettingsError says where it is not TOML."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as problem:
        raise SettingsError(f"This is not TOML: {problem}", file=path, next_step="Mend that line and save") from None


def validated(model: type[Model], values: Mapping[str, Any], text: str, path: Path, *, within: tuple[str, ...] = ()) -> Model:
    """A model from values found at the dotted key `within` of a text. SettingsError names line, key and what was expected."""
    try:
        return model.model_validate(values)
    except ValidationError as problem:
        error = problem.errors()[0]
        where = tuple(str(part) for part in error["loc"])
        line = line_of(text, (*within, *where))
        key = ".".join((*within, *where)) or "the file"
        expected = error["msg"].removeprefix("Value error, ")
        if error["type"] == "extra_forbidden":
            expected = "no such key is known"
        raise SettingsError(
            f"Line {line}, key {key}: {expected}",
            file=path,
            next_step="Mend that line and save; docs/reference.md lists every key",
        ) from None


def line_of(text: str, where: Sequence[str]) -> int:
    """The line (from 1) on which the deepest part of a dotted key that the text writes out stands."""
    best, depth, table = 1, 0, list[str]()
    for number, line in enumerate(text.splitlines(), 1):
        if header := _HEADER.match(line):
            table = _keys(header[1])
            path = table
        elif entry := _ENTRY.match(line):
            path = [*table, *_keys(entry[1])]
        else:
            continue
        common = sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], zip(path, where, strict=False)))
        if common > depth and common == min(len(path), len(where)):
            best, depth = number, common
    return best


_HEADER = re.compile(r"\s*\[{1,2}\s*([^\]]+?)\s*\]{1,2}")
_ENTRY = re.compile(r"\s*([A-Za-z0-9_.\"'-]+)\s*=")


def _keys(dotted: str) -> list[str]:
    return [part.strip().strip("\"'") for part in dotted.split(".")]
