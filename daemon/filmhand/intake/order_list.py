"""A list of orders for files of one hot folder: a spreadsheet's CSV, or a job in XJDF. Each order has its ticket. Pure."""

from dataclasses import dataclass
from typing import Final

from filmhand.intake.csv_list import csv_list
from filmhand.intake.listed import list_held
from filmhand.intake.ordered import ordered
from filmhand.intake.ticket import Ticket
from filmhand.intake.wardrobe import NO_TABLES, Tables
from filmhand.intake.xjdf import xjdf
from filmhand.preflight.finding import Finding
from filmhand.rules import Rule
from filmhand.words import Phrase

MOST_BYTES: Final = 1 << 20

_TOO_LARGE: Final = Phrase("it is larger than {most} MiB")
_NOTHING: Final = Phrase("it orders nothing")


@dataclass(frozen=True)
class OrderLine:
    """One order: which file it orders, by the name as written, less any folder; and its ticket, or what in it cannot be followed.

    `line` is the row of the spreadsheet, or the order's place in the job, from 1; no two orders of a list share one.
    """

    file: str
    ticket: Ticket | Finding
    line: int


@dataclass(frozen=True)
class OrderList:
    """Every order of a list, and what is to be said of the list as a whole: notes, and what holds it for a person."""

    lines: tuple[OrderLine, ...]
    faults: tuple[Finding, ...]


def read_order_list(data: bytes, name: str, *, rule: Rule, tables: Tables = NO_TABLES) -> OrderList:
    """What a list orders. `name` is its file name; what it is is told by its first sign. One wrong line loses no other.

    A ticket is whole: what its line does not say comes from the ordered file's name and then from the rule.
    """
    if len(data) > MOST_BYTES:
        return OrderList((), (list_held(name, _TOO_LARGE(most=MOST_BYTES >> 20)),))
    listed, faults = (xjdf if _is_xml(data) else csv_list)(data, name)
    if not listed and not faults:
        faults = (list_held(name, _NOTHING()),)
    lines = tuple(
        OrderLine(
            one.file,
            one.statement
            if isinstance(one.statement, Finding)
            else ordered(one.statement, name=one.file, rule=rule, tables=tables),
            one.line,
        )
        for one in listed
    )
    return OrderList(lines, faults)


def _is_xml(data: bytes) -> bool:
    """Whether the first sign is "<", in UTF-8 or UTF-16, with a byte order mark or without (XML 1.0, appendix F)."""
    return data[:64].lstrip(b"\xef\xbb\xbf\xff\xfe\0 \t\r\n").startswith(b"<")
