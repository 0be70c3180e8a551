"""TOML settings files of any kind: read, parsed, and checked against a model, or refused with file, line, key and expectation."""

import re
import tomllib
from collections import Counter
from collections.abc import Mapping, Sequence
from itertools import takewhile
from pathlib import Path
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

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
        where = (*within, *(str(part) for part in error["loc"]))
        raise _refusal(_expected(error), where, text, path) from None


def tables(value: object, key: str, text: str, path: Path) -> list[dict[str, Any]]:
    """The tables written under `[[key]]`. SettingsError if `value` is anything else."""
    if isinstance(value, list) and all(isinstance(table, dict) for table in value):
        return value
    raise _refusal(f"expected tables headed [[{key}]], in double brackets", (key,), text, path)


def line_of(text: str, where: Sequence[str]) -> int:
    """The line (from 1) on which the deepest part of a dotted key that the text writes out stands.

    A table headed `[[key]]` is called `key` and its number, from "0".
    """
    best, depth, table, seen = 1, 0, list[str](), Counter[str]()
    for number, line in enumerate(text.splitlines(), 1):
        if header := _HEADER.match(line):
            table = _keys(header[2])
            if header[1] == "[[":
                table = [*table, str(seen[header[2]])]
                seen[header[2]] += 1
            path = table
        elif entry := _ENTRY.match(line):
            path = [*table, *_keys(entry[1])]
        else:
            continue
        common = sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], zip(path, where, strict=False)))
        if common > depth and common == min(len(path), len(where)):
            best, depth = number, common
    return best


_HEADER = re.compile(r"\s*(\[{1,2})\s*([^\[\]]+?)\s*\]{1,2}")
_ENTRY = re.compile(r"\s*([A-Za-z0-9_.\"'-]+)\s*=")


def _refusal(expected: str, where: Sequence[str], text: str, path: Path) -> SettingsError:
    key = "".join(f"[{int(part) + 1}]" if part.isdigit() else f".{part}" for part in where).removeprefix(".") or "the file"
    return SettingsError(
        f"Line {line_of(text, where)}, key {key}: {expected}",
        file=path,
        next_step="Mend that line and save; docs/reference.md lists every key",
    )


def _expected(error: ErrorDetails) -> str:
    """What was expected, in a sentence's second half; `error` is one of a ValidationError's."""
    words = {
        "missing": "this key is missing",
        "extra_forbidden": "no such key is known",
        "model_type": "expected a table, such as { key = value } or lines under a heading in brackets",
        "bool_type": "expected true or false, without quotation marks",
        "bool_parsing": "expected true or false, without quotation marks",
        "tuple_type": "expected a list in brackets, such as [1, 2]",
        "string_type": 'expected text between quotation marks, such as "text"',
    }
    said = error["msg"].removeprefix("Value error, ").replace("Input should be", "expected")
    return words.get(error["type"], said)


def _keys(dotted: str) -> list[str]:
    return [part.strip().strip("\"'") for part in dotted.split(".")]
