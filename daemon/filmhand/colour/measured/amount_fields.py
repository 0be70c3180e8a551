"""Ink amounts in the columns of a CGATS table: CMYK_C, nCLR_1, or a field an ink."""

import re
from collections.abc import Sequence
from typing import Final

import numpy as np

from filmhand.colour.measured.cgats import INKS_KEYWORD, Table
from filmhand.colour.measured.ink_names import ink_letter, letters_in
from filmhand.colour.measured.labels import labels_of
from filmhand.colour.measured.numbers_in_text import numbers
from filmhand.colour.measured.sheet import Printed, names_of
from filmhand.colour.measured.unusable import UnusableChartError

_BY_NUMBER: Final = re.compile(r"(?P<count>\d)CLR_(?P<number>\d)|PC(?P<count2>\d)_(?P<number2>\d)")  # the latter from memory
_BY_LETTER: Final = re.compile(r"(?P<all>CMY[A-Z]*)_(?P<ink>[A-Z])")
_CMYK: Final = ("C", "M", "Y", "K")


def printed_in(table: Table) -> Printed | None:
    """What was printed, (m, k); None where no column is an ink's. UnusableChartError for inks that filmhand does not know."""
    fields = [name.upper() for name in table.fields]
    numbered = _numbered(fields, table)
    columns, inks = numbered if numbered is not None else _lettered(fields)
    if not columns:
        return None
    labels = labels_of(table)
    names = names_of(labels, len(table.rows))
    amounts = [numbers([row[i] for row in table.rows], what=table.fields[i], names=names) for i in columns]
    return Printed(labels, inks, np.stack(amounts, axis=1) / 100)


def _numbered(fields: Sequence[str], table: Table) -> tuple[list[int], tuple[str, ...]] | None:
    """Columns of nCLR_1 to nCLR_n and the letters of their inks: as the keyword says, else C, M, Y, K for four, else ()."""
    found = {int(match["number"] or match["number2"]): column for column, match in _matches(_BY_NUMBER, fields)}
    if not found:
        return None
    columns = [found[number] for number in sorted(found)]
    if sorted(found) != list(range(1, len(found) + 1)):
        raise UnusableChartError("The columns of inks do not count from 1 on", next_step="Export the file again with every ink")
    inks = letters_in(table.keywords.get(INKS_KEYWORD, ""))
    if inks and len(inks) != len(columns):
        raise UnusableChartError(
            f"{INKS_KEYWORD} names {len(inks)} inks, but the table has columns for {len(columns)}",
            next_step=f"Put the letters of all {len(columns)} inks there, in the order of the columns",
        )
    return columns, inks or (_CMYK if len(columns) == len(_CMYK) else ())


def _lettered(fields: Sequence[str]) -> tuple[list[int], tuple[str, ...]]:
    """Columns of inks by letter (CMYK_C, CMYKOG_O) or by name (ORANGE, INK_O). Bare letters would be RGB or XYZ as well."""
    found = {column: match["ink"] for column, match in _matches(_BY_LETTER, fields)}
    found |= {column: name for column, name in enumerate(fields) if len(name) > 1 and ink_letter(name)}
    letters = {column: ink_letter(name) for column, name in found.items()}
    for column, letter in letters.items():
        if letter is None or list(letters.values()).count(letter) > 1:
            what = "is no ink that filmhand knows" if letter is None else "stands there twice"
            raise UnusableChartError(f"The column {fields[column]} {what}", next_step="Rename it or take it out of the file")
    columns = sorted(letters)
    return columns, tuple(letter for column in columns if (letter := letters[column]) is not None)


def _matches(pattern: re.Pattern[str], fields: Sequence[str]) -> list[tuple[int, re.Match[str]]]:
    return [(column, match) for column, name in enumerate(fields) if (match := pattern.fullmatch(name))]
