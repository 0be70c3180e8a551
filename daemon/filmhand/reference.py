"""docs/reference.md, made from the code: `python -m filmhand.reference > docs/reference.md`.

Keys, types and ranges are the models' own; meanings are the docstrings beside the fields.
"""

import ast
import inspect
import sys
import types
import typing
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from enum import Enum
from itertools import pairwise
from typing import Annotated, Any, Literal, get_args, get_origin

import typer.main
from annotated_types import Ge, Gt, Le, Lt
from pydantic import BaseModel, BeforeValidator
from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from filmhand import units
from filmhand.cli import app
from filmhand.colour.named import NamedColour
from filmhand.errors import ExitCode
from filmhand.intake.ticket import Ordered
from filmhand.intake.wardrobe import Garment, Place
from filmhand.printer import Printer
from filmhand.rule_values import LengthLimits, Limits, Unit, parse_hex
from filmhand.rules import Case, Rule
from filmhand.shop import ShopSettings

_PARSED = {
    units.parse_length_mm: ("length", "mm"),
    units.parse_seconds: ("time", "s"),
    units.parse_clock: ("time of day", ""),
    parse_hex: ("colour", ""),
}

_PLAIN = {bool: "`true` or `false`", int: "whole number", float: "number", str: "text", datetime: "date and time"}
_PLURAL = {"length": "lengths", "number": "numbers", "whole number": "whole numbers", "time of day": "times of day"}
_LIMITS = {Limits: "limits, numbers", LengthLimits: "limits, lengths"}

_OPENING = """\
# Reference

Made from the code by `python -m filmhand.reference`; a test keeps it so. Every key of every settings file is here; a key
that is not here is refused, with the file, the line and what was expected.

How values are written:

* *text* and words to choose among: between quotation marks, `"text"`
* *length*: a number and `mm`, `cm`, `m`, `in` or `pt`, between quotation marks: `"0.15 mm"`, `"22 in"`
* *time*: a number and `s`, `min`, `h` or `d`, between quotation marks: `"45 min"`; *time of day*: `"22:00"`
* *colour*: `"#"` and six hexadecimal digits (sRGB, IEC 61966-2-1): `"#1b1b1d"`
* *number*, `true`, `false`: without quotation marks
* *list*: in brackets, `[720, 720]`
* *limits*: `{ warn = 200, reject = 100 }`. Past `warn` it is printed and the report says so, past `hold` it waits for a
  person, past `reject` it goes back to the customer. Any of the three may be left out.
"""

_WHEN = """\
As many of these tables as you like, at the end of a rule file. Beside the condition each holds any keys of the rule, with
their table's name and a dot before them (`underbase.choke = "0.1 mm"`). Where several apply, the later is laid over the earlier.
"""


@dataclass(frozen=True)
class _Value:
    """What may be written for a key."""

    kind: str
    unit: str
    bounds: str


def reference() -> str:
    """The whole page, as Markdown."""
    parts = [
        _OPENING,
        "## Rule files: `rules/NAME.toml`\n",
        *_model(Rule),
        f"### `[[when]]`\n\n{_meaning(Case)}\n\n{_WHEN}\n{_table(Case)}",
        "## Printer file: `printer.toml`\n",
        *_model(Printer),
        f"## Shop file: `shop.toml`\n\n{_meaning(ShopSettings)}\n\n{_table(ShopSettings)}",
        f"## Job tickets: `FILE.ticket.toml` or `FILE.ticket.json`\n\n{_meaning(Ordered)}\n\n{_table(Ordered)}",
        f"## Garments: `garments.toml`\n\n{_meaning(Garment)}\n\n{_table(Garment)}",
        f"## Placements: `placements.toml`\n\n{_meaning(Place)}\n\n{_table(Place)}",
        f"## Colours: `colours.toml`\n\n{_meaning(NamedColour)}\n\n{_table(NamedColour)}",
        "## Commands\n",
        *_commands(),
        f"## Exit codes\n\n{_meaning(ExitCode)}\n\n{_exit_codes()}",
    ]
    return "\n".join(parts)


def _model(model: type[BaseModel]) -> Iterator[str]:
    """A settings file: first the keys outside any table, then table by table."""
    yield f"{_meaning(model)}\n\n{_table(model, with_tables=False)}"
    for name, field in model.model_fields.items():
        inner = _bare(field.annotation)
        if _is_table(inner):
            yield f"### `[{name}]`\n\n{_meaning(inner)}\n\n{_table(inner, default=field.default)}"
        elif get_origin(inner) is dict:
            yield f"### `[{name}]`\n\n{_docstrings(model)[name]} Each value: {_cell(_value(get_args(inner)[1], []))}.\n"


def _table(model: type[BaseModel], *, default: object = None, with_tables: bool = True) -> str:
    lines = ["| key | value | default | meaning |", "| --- | --- | --- | --- |"]
    lines += [f"| {' | '.join(row)} |" for row in _rows(model, "", default, with_tables=with_tables)]
    return "\n".join([*lines, ""])


def _rows(model: type[BaseModel], before: str, default: object, *, with_tables: bool) -> Iterator[tuple[str, str, str, str]]:
    hints = typing.get_type_hints(model, include_extras=True)
    for name, field in model.model_fields.items():
        inner = _bare(field.annotation)
        preset = getattr(default, name, field.default) if isinstance(default, BaseModel) else field.default
        if _is_table(inner):
            if with_tables:
                yield from _rows(inner, f"{before}{name}.", preset, with_tables=True)
        elif get_origin(inner) is not dict:
            value = _value(hints[name], field.metadata)
            meaning = " ".join(_docstrings(model)[name].split())
            yield f"`{before}{name}`", _cell(value), _preset(field, preset, value), meaning


def _value(hint: Any, extra: list[Any]) -> _Value:
    metadata = [*_metadata(hint), *extra]
    unit = next((mark.name for mark in metadata if isinstance(mark, Unit)), "")
    word = None
    for mark in metadata:
        if isinstance(mark, BeforeValidator) and mark.func in _PARSED:
            word, unit = _PARSED[mark.func]
    return _Value(_kind(_bare(hint), word), unit, _bounds(metadata))


def _kind(bare: Any, word: str | None) -> str:
    """A type in words; `word` is what its innermost value is written as, where that is no plain number or text."""
    origin, parts = get_origin(bare), get_args(bare)
    if origin is tuple:
        number = "list of" if parts[-1] is Ellipsis else f"list of {len(parts)}"
        one = _kind(_bare(parts[0]), word)
        return f"{number} {_PLURAL.get(one, one)}"
    if origin is Literal:
        return " or ".join(f"`{part}`" for part in parts)
    if origin in (typing.Union, types.UnionType):
        return " or ".join(_kind(_bare(part), word) for part in parts)
    if issubclass(bare, Enum):
        words = [f'`"{member.value}"`' for member in bare]
        return ", ".join(words[:-1]) + f" or {words[-1]}"
    return _LIMITS.get(bare) or word or _PLAIN[bare]


def _bounds(metadata: list[Any]) -> str:
    low = next((f"at least {mark.ge:g}" for mark in metadata if isinstance(mark, Ge)), "")
    low = next((f"above {mark.gt:g}" for mark in metadata if isinstance(mark, Gt)), low)
    high = next((f"at most {mark.le:g}" for mark in metadata if isinstance(mark, Le)), "")
    high = next((f"below {mark.lt:g}" for mark in metadata if isinstance(mark, Lt)), high)
    return ", ".join(part for part in (low, high) if part)


def _cell(value: _Value) -> str:
    unit = "" if "length" in value.kind or value.kind == "time" else value.unit
    return "; ".join(part for part in (value.kind, unit, value.bounds) if part)


def _preset(field: FieldInfo, preset: object, value: _Value) -> str:
    if field.is_required():
        return "must be given"
    if preset is None or preset is PydanticUndefined:
        return "none"
    return f"`{_toml(preset, value)}`"


def _toml(preset: object, value: _Value) -> str:
    if isinstance(preset, Enum):
        return f'"{preset.value}"'
    if isinstance(preset, BaseModel):
        return "{ " + ", ".join(f"{key} = {number:g}" for key, number in preset if number is not None) + " }"
    if isinstance(preset, tuple):
        return "[" + ", ".join(_toml(part, value) for part in preset) + "]"
    if isinstance(preset, bool):
        return str(preset).lower()
    if isinstance(preset, float | int):
        return f'"{preset:g} {value.unit}"' if value.kind in ("length", "time") else f"{preset:g}"
    return f'"{preset}"'


def _commands() -> Iterator[str]:
    group: Any = typer.main.get_command(app)
    for name, command in group.commands.items():
        words, options = [], []
        for parameter in command.params:
            shown = parameter.metavar or parameter.name.upper()
            if parameter.param_type_name == "argument":
                words.append(shown if parameter.required else f"[{shown}]")
                options += [f"* `{shown}`: {parameter.help}"] if parameter.help else []
            else:
                words.append(f"{parameter.opts[0]} {shown}" if parameter.required else f"[{parameter.opts[0]} {shown}]")
                options.append(f"* `{parameter.opts[0]}`: {parameter.help}")
        yield "\n".join([f"### `{' '.join(['filmhand', name, *words])}`", "", inspect.cleandoc(command.help), "", *options, ""])


def _exit_codes() -> str:
    meanings = _docstrings(ExitCode)
    lines = [f"| {code.value} | {code.name.lower().replace('_', ' ')} | {meanings[code.name]} |" for code in ExitCode]
    return "\n".join(["| code | name | meaning |", "| --- | --- | --- |", *lines, ""])


def _meaning(thing: type) -> str:
    return inspect.cleandoc(thing.__doc__ or "")


def _docstrings(model: type) -> dict[str, str]:
    """The docstrings that stand under a class's fields, those of the package's own classes before it included."""
    own = [base for base in model.__mro__[1:] if base.__module__.startswith("filmhand")]
    found = {name: text for base in reversed(own) for name, text in _docstrings(base).items()}
    body = typing.cast(ast.ClassDef, ast.parse(inspect.getsource(model)).body[0]).body
    for field, after in pairwise(body):
        target = field.target if isinstance(field, ast.AnnAssign) else field.targets[0] if isinstance(field, ast.Assign) else None
        if isinstance(target, ast.Name) and isinstance(after, ast.Expr) and isinstance(after.value, ast.Constant):
            found[target.id] = inspect.cleandoc(str(after.value.value))
    return found


def _bare(hint: Any) -> Any:
    """A type without its annotations and without `None`."""
    if get_origin(hint) is Annotated:
        return _bare(get_args(hint)[0])
    if get_origin(hint) in (typing.Union, types.UnionType):
        parts = [part for part in get_args(hint) if part is not types.NoneType]
        return _bare(parts[0]) if len(parts) == 1 else hint
    return hint


def _metadata(hint: Any) -> list[Any]:
    """Every annotation in a type, outermost first."""
    if get_origin(hint) is Annotated:
        inner, *marks = get_args(hint)
        return [*marks, *_metadata(inner)]
    return [mark for part in get_args(hint) for mark in _metadata(part)]


def _is_table(bare: Any) -> bool:
    return isinstance(bare, type) and issubclass(bare, BaseModel) and not issubclass(bare, Limits | LengthLimits)


if __name__ == "__main__":
    sys.stdout.write(reference())
