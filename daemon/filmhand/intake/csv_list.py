"""A list of orders from a spreadsheet, one a row: CSV as RFC 4180 has it, and as spreadsheets write it. Pure."""

import codecs
import csv
import io
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any, Final

from filmhand.intake import cells
from filmhand.intake.columns import HEADINGS, Columns, columns
from filmhand.intake.listed import Listed, base_name, list_held, list_noted
from filmhand.intake.ordered import Statement
from filmhand.preflight.finding import Finding
from filmhand.words import Phrase

_BOMS: Final = (  # Unicode Standard, section 23.8. Longest first, for that of UTF-32 begins as that of UTF-16 does
    (codecs.BOM_UTF32_LE, "utf-32-le"),
    (codecs.BOM_UTF32_BE, "utf-32-be"),
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF16_LE, "utf-16-le"),
    (codecs.BOM_UTF16_BE, "utf-16-be"),
)
_DELIMITERS: Final = (";", ",", "\t", "|")
_SEP_LINE: Final = re.compile(r'"?sep=(.)"?\r?\n?', re.IGNORECASE)
_HEADED_BY: Final = 20
"""The row of headings is looked for this far down: spreadsheets often have a title above their table."""

_READ: Final[Mapping[str, Callable[[str], Any]]] = {"copies": cells.count, "due": cells.due, "rush": cells.yes_or_no}
"""Cells that are more than text, by key."""

_NO_FILES: Final = Phrase("no column is headed “file”; the row above the orders should name the columns: {known}")
_BROKEN: Final = Phrase("row {row} cannot be read, and rows below it may be missing: a quotation mark is not closed")
_NO_NAME: Final = Phrase("row {row} does not say which file it orders")
_TOO_LONG: Final = Phrase("it has more cells than there are columns; text with “{mark}” in it must stand between quotation marks")
_IGNORED: Final = Phrase("these columns were not read: {columns}")
_ROW: Final = Phrase("{list}, row {row}")


def csv_list(data: bytes, name: str) -> tuple[tuple[Listed, ...], tuple[Finding, ...]]:
    """The orders of a list, and what is wrong with the list as a whole. Rows count from 1, as the spreadsheet shows them."""
    text, delimiters = _told_delimiter(_decoded(data))
    delimiter, head, known = max(
        (_headed(text, delimiter) for delimiter in delimiters),
        key=lambda found: "file" in found[2].by_key and len(found[2].by_key),
    )
    if "file" not in known.by_key:
        return (), (list_held(name, _NO_FILES(known=", ".join(HEADINGS))),)
    if known.fault is not None:
        return (), (list_held(name, known.fault),)
    listed: list[Listed] = []
    findings = [list_noted(name, _IGNORED(columns=", ".join(known.others)))] if known.others else []
    for row, values in _rows(text, delimiter):
        if values is None:
            findings.append(list_held(name, _BROKEN(row=row)))
        elif row > head and any(value.strip() for value in values):
            file = base_name(_cell(values, known, "file"))
            if not file:
                findings.append(list_held(name, _NO_NAME(row=row)))
                continue
            statement = Statement(_ROW(list=name, row=row), _ticket_values(values, known), _headings(known))
            is_whole = not any(value.strip() for value in values[known.count :])
            listed.append(Listed(row, file, statement if is_whole else statement.refused(_TOO_LONG(mark=delimiter))))
    return tuple(listed), tuple(findings)


def _decoded(data: bytes) -> str:
    """By its byte order mark; else UTF-8 if it is that; else UTF-16 if every other byte is nought; else Windows-1252."""
    for bom, encoding in _BOMS:
        if data.startswith(bom):
            return data[len(bom) :].decode(encoding, "replace")
    if data[1:80:2].strip(b"\0") == b"" and data[:80:2].strip(b"\0"):
        return data.decode("utf-16-le", "replace")
    try:
        return data.decode("utf-8")
    except UnicodeDecodeError:
        return data.decode("cp1252", "replace")


def _told_delimiter(text: str) -> tuple[str, Sequence[str]]:
    """The text after a first line `sep=;`, which spreadsheets write and do not count as a row, and what may part its cells."""
    told = _SEP_LINE.match(text)
    return (text[told.end() :], (told[1],)) if told else (text, _DELIMITERS)


def _headed(text: str, delimiter: str) -> tuple[str, int, Columns]:
    """The row of headings if cells are parted so, among the first rows: the one that names most columns and a file's."""
    best = columns(())
    place = 0
    for row, values in _rows(text, delimiter):
        if row > _HEADED_BY:
            break
        found = columns(values or ())
        if "file" in found.by_key and len(found.by_key) > len(best.by_key):
            place, best = row, found
    return delimiter, place, best


def _rows(text: str, delimiter: str) -> Iterator[tuple[int, list[str] | None]]:
    """Every row with its number from 1; None for one that cannot be read."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    row = 0
    while True:
        row += 1
        try:
            yield row, next(reader)
        except StopIteration:
            return
        except csv.Error:
            yield row, None


def _cell(values: Sequence[str], known: Columns, key: str) -> str:
    place = known.by_key[key].place
    return cells.plain(values[place]) if place < len(values) else ""


def _headings(known: Columns) -> dict[str, str]:
    return {key: column.heading for key, column in known.by_key.items()}


def _ticket_values(values: Sequence[str], known: Columns) -> dict[str, Any]:
    """What a row says, as a ticket file would say it; an empty cell says nothing."""
    said: dict[str, Any] = {}
    for key, column in known.by_key.items():
        text = _cell(values, known, key)
        if key == "file" or not text:
            continue
        if key in {"width", "height"}:
            said[key] = cells.length(text, column.unit)
        else:
            said[key] = _READ[key](text) if key in _READ else text
    return said
