"""CGATS text (ANSI CGATS.17, ISO 28178): as instruments' programs write it, into tables of words; and patch lists for them.

Read with tolerance: any first line; any line end; UTF-8, UTF-16 or else Latin-1; tabs or spaces; comments; missing counts and
missing BEGIN and END lines; rows wrapped over lines; several tables in one file. What cannot be told apart is refused.
"""

import codecs
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from enum import Enum
from typing import Final

from filmhand.colour.measured.numbers_in_text import number
from filmhand.colour.measured.readings import Floats
from filmhand.colour.measured.unusable import UnusableChartError

_TOKEN: Final = re.compile(r'"((?:[^"]|"")*)"?|#.*|([^\s"]\S*)')
_MARK: Final = re.compile(
    r"(BEGIN[_ ]?|(?P<end>END[_ ]?))DATA|(BEGIN[_ ]?|(?P<over>END[_ ]?))?(DATA[_ ]?)?(?P<format>FORMAT)", re.IGNORECASE
)
_COLOUR: Final = re.compile(r"XYZ_[XYZ]|LAB_[LAB]|[A-Z]{4,}_[A-Z]|\dCLR_\d|[A-Z_]*NM_?\d{3}|\d{3}_?NM", re.IGNORECASE)
_FEWEST_FIELDS: Final = 3
"""A table has at least three columns of colour; a line with fewer of their names is no list of fields."""


INKS_KEYWORD: Final = "FILMHAND_INKS"
"""Our own: the letters of the inks of nCLR_1 to nCLR_n, in that order."""
_CMYK: Final = frozenset("CMYK")


class _Mark(Enum):
    """Lines that part a table: (ends something, concerns the list of fields)."""

    FORMAT = (False, True)
    END_FORMAT = (True, True)
    DATA = (False, False)
    END_DATA = (True, False)


@dataclass(frozen=True)
class Table:
    """`fields` as the file spells them; each of `rows` has a word a field. A keyword, in capitals, said twice holds both."""

    keywords: Mapping[str, str]
    fields: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


@dataclass
class _Draft:
    """A table on its way; a later table of a file inherits what it does not say anew."""

    inherited: dict[str, str] = field(default_factory=dict)
    said: dict[str, str] = field(default_factory=dict)
    fields: list[str] = field(default_factory=list)
    lines: list[tuple[int, str]] = field(default_factory=list)
    is_ended: bool = False

    def heir(self) -> "_Draft":
        kept = {name: value for name, value in (self.inherited | self.said).items() if not name.startswith("NUMBER_OF_")}
        return _Draft(kept, fields=self.fields)


def read_cgats(data: bytes) -> tuple[Table, ...]:
    """The tables that have rows, in the file's order; UnusableChartError where none has, or a row has not a word a field."""
    tables = tuple(_finished(draft) for draft in _drafts(_lines(data)) if draft.lines)
    if not tables:
        raise UnusableChartError(
            "This file holds no table of patches", next_step="Export the measurements as CGATS text or CxF 3 and try again"
        )
    return tables


def patch_list(inks: tuple[str, ...], names: Sequence[str], amounts: Floats, *, title: str) -> str:
    """The text, with lines ended by "\\n", of patches with amounts (m, k), 0 to 1 of full ink; in the text they are percent.

    C, M, Y and K have the fields CMYK_C and so on; other inks nCLR_1 to nCLR_n, whose letters a keyword of our own tells.
    Amounts come back within 1e-8. `names` and `title` hold no line end.
    """
    k = len(inks)
    fields = [f"CMYK_{ink}" if _CMYK.issuperset(inks) else f"{k}CLR_{i}" for i, ink in enumerate(inks, start=1)]
    lines = [
        "CGATS.17",
        'ORIGINATOR "filmhand"',
        f"DESCRIPTOR {_quoted(title)}",
        f'KEYWORD "{INKS_KEYWORD}"',
        f'{INKS_KEYWORD} "{" ".join(inks)}"',
        f"NUMBER_OF_FIELDS {2 + k}",
        "BEGIN_DATA_FORMAT",
        "\t".join(["SAMPLE_ID", "SAMPLE_NAME", *fields]),
        "END_DATA_FORMAT",
        f"NUMBER_OF_SETS {len(names)}",
        "BEGIN_DATA",
    ]
    for sample, (name, row) in enumerate(zip(names, amounts, strict=True), start=1):
        lines.append("\t".join([str(sample), _quoted(name), *(_percent(amount) for amount in row)]))
    return "\n".join([*lines, "END_DATA", ""])


def _lines(data: bytes) -> list[str]:
    # Not str.splitlines: it also cuts at control characters that stand for signs in old one-byte encodings.
    return re.split(r"\r\n|\r|\n", _decoded(data))


def _decoded(data: bytes) -> str:
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        return data.decode("utf-16", errors="replace")
    if data[1:2] == b"\0" or data[:1] == b"\0":
        return data.decode("utf-16-le" if data[1:2] == b"\0" else "utf-16-be", errors="replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def _drafts(lines: Iterable[str]) -> Iterator[_Draft]:
    """Tables as they end: at END_DATA, where the next table begins, or with the file."""
    draft, place = _Draft(), None
    for count, line in enumerate(lines, start=1):
        mark = _mark(line)
        if mark is _Mark.END_DATA or (mark in (_Mark.FORMAT, _Mark.DATA) and draft.lines):
            draft.is_ended = True
            yield draft
            draft = draft.heir()
        if mark is not None:
            place = mark
            draft.fields = [] if mark is _Mark.FORMAT else draft.fields
        elif words := _words(line):
            _take(draft, words, line=(count, line), place=place)
    yield draft


def _take(draft: _Draft, words: Sequence[str], *, line: tuple[int, str], place: _Mark | None) -> None:
    """What a line adds to a table: fields, a row or a keyword. Fields and rows are known by their look where no mark tells."""
    if place is _Mark.FORMAT:
        draft.fields.extend(words)
    elif not draft.fields and _are_fields(words):
        draft.fields = list(words)
    elif place is _Mark.DATA or _is_row(words, draft.fields):
        draft.lines.append(line)
    elif words[0].upper() != "KEYWORD":  # which only declares a name that the standard does not have
        name, value = words[0].upper(), " ".join(words[1:])
        before = draft.said.get(name)
        draft.said[name] = value if before is None else f"{before}; {value}"


def _words(line: str) -> list[str]:
    """A line's words; quotes are taken off, what follows a # is a comment."""
    found = [match for match in _TOKEN.finditer(line) if not match[0].startswith("#")]
    return [match[2] if match[2] is not None else match[1].replace('""', '"') for match in found]


def _mark(line: str) -> _Mark | None:
    """Whether the line stands between the parts of a table, in one of the spellings met ("BEGIN DATA", "DATA_FORMAT")."""
    match = _MARK.fullmatch(line.partition("#")[0].strip())
    return _Mark(((match["end"] or match["over"]) is not None, match["format"] is not None)) if match else None


def _is_row(words: Sequence[str], fields: Sequence[str]) -> bool:
    """A line outside BEGIN_DATA that is a row all the same: as many words as fields, numbers most of them."""
    return len(words) == len(fields) and sum(number(word) is not None for word in words) * 2 > len(words)


def _are_fields(words: Sequence[str]) -> bool:
    """A list of fields that no BEGIN_DATA_FORMAT announced: names of colours or inks among the words."""
    return sum(_COLOUR.fullmatch(word) is not None for word in words) >= _FEWEST_FIELDS


def _finished(draft: _Draft) -> Table:
    if not draft.fields:
        raise UnusableChartError(
            f"The rows from line {draft.lines[0][0]} on have no list of fields",
            next_step="Put BEGIN_DATA_FORMAT, the names of the columns and END_DATA_FORMAT before them",
        )
    rows = tuple(_rows(draft.lines, len(draft.fields)))
    promised = number(draft.said.get("NUMBER_OF_SETS", ""))
    if not draft.is_ended and promised is not None and len(rows) < promised:
        raise UnusableChartError(
            f"The file stops after {len(rows)} of {promised:.0f} patches", next_step="Copy or export it again; it was cut short"
        )
    return Table(draft.inherited | draft.said, tuple(draft.fields), rows)


def _rows(lines: Iterable[tuple[int, str]], width: int) -> Iterator[tuple[str, ...]]:
    """Rows of `width` words. A row begins on a line of its own and may go on over further lines; a line may hold several."""
    row: list[str] = []
    start = 0
    for count, line in lines:
        start = start if row else count
        row.extend(_cells(line, width) if not row else _words(line))
        if len(row) % width == 0:
            yield from (tuple(row[i : i + width]) for i in range(0, len(row), width))
            row = []
        elif len(row) > width:
            break
    if row:
        raise UnusableChartError(
            f"The row at line {start} does not have the {width} values that the list of fields asks for",
            next_step="Mend that row, or export the file again",
        )


def _cells(line: str, width: int) -> list[str]:
    """A line's words; one parted by tabs into just as many cells as there are fields may have blanks and gaps within them."""
    cells = [" ".join(_words(cell)) if '"' in cell else cell.strip() for cell in line.split("\t")]
    return cells if len(cells) == width else _words(line)


def _quoted(text: str) -> str:
    return '"' + text.replace('"', '""') + '"'


def _percent(amount: float) -> str:
    text = f"{100 * amount:.6f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
