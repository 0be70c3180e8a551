"""Order lists from spreadsheets: however they were saved the same orders come out; what cannot be read is said by row."""

import csv
import io
from pathlib import Path

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from filmhand.intake import cells
from filmhand.intake.columns import HEADINGS, columns
from filmhand.intake.order_list import OrderLine, OrderList, read_order_list
from filmhand.intake.ticket import Ticket
from filmhand.preflight.finding import Finding, Severity
from filmhand.rules import RuleFile

RULE = RuleFile.parse('title = "t"\ngarment = "#1b1b1d"\n[ticket]\ncopies = 2\n', Path("t.toml")).general

GERMAN = 'Datei;Stück;Breite;Kunde\r\nWappen.png;12;"28,5 cm";"Müller & Söhne"\r\nRücken.png;1.200;30 cm;\r\n'


def read(data: bytes | str, name: str = "orders.csv") -> OrderList:
    """A list, as UTF-8 if it is text."""
    return read_order_list(data.encode() if isinstance(data, str) else data, name, rule=RULE)


def ticket(line: OrderLine) -> Ticket:
    """The ticket of an order that can be followed."""
    assert isinstance(line.ticket, Ticket), str(line.ticket.message)
    return line.ticket


@pytest.mark.parametrize(
    "data",
    [
        GERMAN.encode(),
        GERMAN.encode("utf-8-sig"),
        b"\xff\xfe" + GERMAN.encode("utf-16-le"),
        b"\xfe\xff" + GERMAN.encode("utf-16-be"),
        b"\xff\xfe" + GERMAN.replace(";", "\t").encode("utf-16-le"),  # a spreadsheet's "Unicode text"
        GERMAN.encode("utf-16-le"),
        GERMAN.encode("cp1252"),
        GERMAN.replace(";", ",").encode(),
        GERMAN.replace("\r\n", "\n").encode(),
        GERMAN.replace("\r\n", "\r").encode(),
        ("sep=;\r\n" + GERMAN).encode(),
        b"\xef\xbb\xbf" + ("sep=;\r\n" + GERMAN).encode("utf-8"),
        GERMAN.replace("\r\n", ";;;;\r\n").encode(),
    ],
    ids=[
        "utf-8",
        "bom",
        "utf-16le",
        "utf-16be",
        "unicode text",
        "bare utf-16",
        "1252",
        "commas",
        "lf",
        "cr",
        "sep",
        "bom sep",
        "tail",
    ],
)
def test_however_the_spreadsheet_saved_it(data: bytes) -> None:
    """Byte order marks, UTF-16, Windows-1252, any delimiter and line end, a `sep=` line, empty columns at the end."""
    orders = read(data)
    assert orders.faults == ()
    assert [(line.file, line.line) for line in orders.lines] == [("Wappen.png", 2), ("Rücken.png", 3)]
    first, second = (ticket(line) for line in orders.lines)
    assert (first.copies, first.width, first.customer, first.garment) == (12, 285, "Müller & Söhne", "#1b1b1d")
    assert (second.copies, second.width, second.customer) == (1200, 300, None)


def test_every_column() -> None:
    """In English, the name in front of the rest; in no order in particular."""
    text = (
        "order,file,copies,width,height,placement,garment,due,customer,language\n"
        'A-17,art/in/crest.png,3,280 mm,"11""",full back,#AABBCC,2031-03-14 18:00,"Club, the\nsecretary",es\n'
    )
    [line] = read(text).lines
    said = ticket(line)
    assert line.file == "crest.png"
    assert (said.order, said.copies, said.width, said.placement) == ("A-17", 3, 280, "full back")
    assert said.height == pytest.approx(279.4)
    assert (said.garment, said.due and said.due.isoformat(), said.language) == ("#AABBCC", "2031-03-14T18:00:00", "es")
    assert said.customer == "Club, the\nsecretary"


def test_the_rest_comes_from_the_name_and_the_rule() -> None:
    """A line's ticket is whole: its file's name is read by the rule's pattern, as for any artwork."""
    rule = RuleFile.parse('title = "t"\n[ticket]\nfilename = "(?P<order>R\\\\d+)_(?P<width>\\\\d+mm)"\n', Path("t.toml")).general
    [line] = read_order_list(b"file;copies\nR7_90mm.png;4\n", "l.csv", rule=rule).lines
    said = ticket(line)
    assert (said.order, said.width, said.copies, said.garment) == ("R7", 90, 4, "#ffffff")


def test_one_wrong_line_loses_no_other() -> None:
    """It stays in the list with what is wrong, so that its artwork is not printed as if nothing had been ordered."""
    orders = read("file;copies;width\na.png;some;10 cm\nb.png;3;10\nc.png;4;10 cm\nd.png;5;10 cm;left over\n;6;10 cm\n")
    assert [line.file for line in orders.lines] == ["a.png", "b.png", "c.png", "d.png"]
    assert ticket(orders.lines[2]).copies == 4
    wrong = [orders.lines[place].ticket for place in (0, 1, 3)]
    for finding, words in zip(
        wrong,
        (("row 2", "copies", "“some”", "whole number"), ("row 3", "width", "“10”", "unit"), ("row 5", "cells")),
        strict=True,
    ):
        assert isinstance(finding, Finding)
        assert finding.severity is Severity.HOLD
        assert all(word in str(finding.message) for word in ("orders.csv", *words))
    assert ["row 6" in str(fault.message) for fault in orders.faults] == [True]


def test_rows_count_as_the_spreadsheet_shows_them() -> None:
    """A title above, blank lines and line ends in cells: the row is that in the margin of the spreadsheet."""
    text = 'Orders of the week;;\r\n\r\nfile;copies;customer\r\n\r\na.png;1;"two\r\nlines"\r\nb.png;none;x\r\n'
    orders = read(text)
    assert [line.line for line in orders.lines] == [5, 6]
    assert "row 6" in str(getattr(orders.lines[1].ticket, "message", ""))


def test_a_quotation_mark_that_is_not_closed_is_said() -> None:
    """What comes before it is read."""
    orders = read('file;copies\na.png;2\nb.png;"3\nc.png;4\n')
    assert [line.file for line in orders.lines] == ["a.png"]
    assert [fault.severity for fault in orders.faults] == [Severity.HOLD]
    assert "row 3" in str(orders.faults[0].message)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "“file”"),
        ("crest.png;3\n", "“file”"),
        ("file;widht\na.png;10 cm\n", "is “width” meant"),
        ("file;copies;Anzahl\na.png;1;2\n", "say the same"),
        ("file;copies\n", "orders nothing"),
    ],
)
def test_a_list_that_cannot_be_relied_on_is_held_whole(text: str, words: str) -> None:
    """No column of files, a heading that looks misspelt, the same thing twice, nothing at all."""
    orders = read(text)
    assert orders.lines == ()
    assert [fault.severity for fault in orders.faults] == [Severity.HOLD]
    assert words in str(orders.faults[0].message)


def test_other_columns_are_noted() -> None:
    """Not refused: shops keep their own beside ours."""
    orders = read("file;Shelf;copies;Price\na.png;B4;1;12,90\n")
    assert len(orders.lines) == 1
    assert [fault.severity for fault in orders.faults] == [Severity.NOTE]
    assert "Shelf, Price" in str(orders.faults[0].message)


@pytest.mark.parametrize("cell", ["=1+2", '=HYPERLINK("x")', "+49 170 1234567", "@SUM(A1)", "-5", "=cmd|' /C calc'!A0"])
def test_nothing_is_evaluated(cell: str) -> None:
    """Text stays text, whatever sign it starts with; as a number of copies it is refused."""
    buffer = io.StringIO()
    csv.writer(buffer, delimiter=";").writerows([["file", "copies", "customer"], ["a.png", "1", cell], ["b.png", cell, ""]])
    first, second = read(buffer.getvalue()).lines
    assert ticket(first).customer == cell
    assert isinstance(second.ticket, Finding)


def test_a_list_larger_than_any_is_not_read() -> None:
    """One MiB is more than ten thousand orders."""
    orders = read(b"file;copies\n" + b"a.png;1\n" * (1 << 17))
    assert orders.lines == ()
    assert "1 MiB" in str(orders.faults[0].message)


@pytest.mark.parametrize(
    ("text", "number"),
    [
        *[("12", 12), ("12.0", 12), ("12,00", 12), ("1.200", 1200), ("1,200", 1200), ("1 200", 1200), ("1\u00a0200", 1200)],
        *[("1.200,00", 1200), ("1,200.00", 1200), ("1.234.567", 1234567), ("1'200", 1200), ("007", 7)],
        *[
            ("12.5", "12.5"),
            ("1.20", "1.20"),
            ("1.200,5", "1.200,5"),
            ("-3", "-3"),
            ("1e3", "1e3"),
            ("", ""),
            ("٣", "٣"),
            ("3 x", "3 x"),
            ("9" * 5000, "9" * 5000),
        ],
    ],
)
def test_counts(text: str, number: int | str) -> None:
    """By the rule in docs/tickets.md: a mark before three digits parts thousands. What is no count stays as written."""
    assert cells.count(text) == number


@pytest.mark.parametrize(
    ("text", "unit", "length"),
    [
        *[
            ("28,5 cm", "", "28,5 cm"),
            ("28,5", "cm", "28,5 cm"),
            ("28.5", "", "28.5"),
            ('11"', "", "11 in"),
            ("11 inches", "", "11 in"),
        ],
        *[
            ("11 Zoll", "mm", "11 in"),
            ("280mm", "cm", "280 mm"),
            ("3 ell", "", "3 ell"),
            ("1.200", "mm", "1.200 mm"),
            ("wide", "mm", "wide"),
        ],
    ],
)
def test_lengths(text: str, unit: str, length: str) -> None:
    """A unit in the cell goes before that of the heading; without either the number is left for the ticket to refuse."""
    assert cells.length(text, unit) == length


@pytest.mark.parametrize(
    ("text", "date"),
    [
        *[
            ("14.3.2031", "2031-03-14"),
            ("14/03/2031", "2031-03-14"),
            ("4-3-31", "2031-03-04"),
            ("14.3.2031 9:30", "2031-03-14T09:30"),
        ],
        *[
            ("2031-03-14", "2031-03-14"),
            ("3/14/2031", "3/14/2031"),
            ("31.2.2031", "31.2.2031"),
            ("14.3.", "14.3."),
            ("46825", "46825"),
        ],
    ],
)
def test_dates(text: str, date: str) -> None:
    """The day first, unless the year is (ISO 8601). What is no day of the calendar stays as written."""
    assert cells.due(text) == date


@pytest.mark.parametrize(
    ("cell", "text"),
    [('="007"', "007"), ("'12", "12"), ("'=x", "=x"), ("'t Hart", "'t Hart"), (" a\u00a0", "a"), ('="a""b"', 'a"b')],
)
def test_what_keeps_a_cell_text_is_taken_off(cell: str, text: str) -> None:
    """Not the apostrophe of a name."""
    assert cells.plain(cell) == text


@pytest.mark.parametrize(
    ("heading", "key", "unit"),
    [
        *[
            ("Width (mm)", "width", "mm"),
            ("BREITE IN CM", "width", "cm"),
            ("ancho [cm]", "width", "cm"),
            ("height_in", "height", "in"),
        ],
        *[("Stückzahl", "copies", ""), ("STU\u0308CK", "copies", ""), ("Posición", "placement", ""), ("File-Name", "file", "")],
        *[("Fällig:", "due", ""), ("Auftrags-Nr.", "order", ""), ("Garment Colour", "garment", "")],
    ],
)
def test_headings(heading: str, key: str, unit: str) -> None:
    """Capitals, accents and signs do not matter; a length's heading may state its unit."""
    found = columns([heading]).by_key
    assert {name: column.unit for name, column in found.items()} == {key: unit}


def test_the_page_for_the_shop_names_every_heading() -> None:
    """docs/tickets.md lists what the program takes."""
    page = (Path(__file__).parents[2] / "docs" / "tickets.md").read_text("utf-8")
    for key, words in HEADINGS.items():
        rows = [line for line in page.splitlines() if line.startswith(f"| `{key}` |")]
        assert any(all(word in row for word in words) for row in rows), key


LETTERS = st.text(
    st.characters(codec="cp1252", exclude_categories=["Cc", "Zs"]) | st.sampled_from(' ;,\t|"\n'), min_size=1, max_size=30
)


@settings(max_examples=150, deadline=None)
@given(
    rows=st.lists(st.tuples(LETTERS, st.integers(1, 99_999), LETTERS), min_size=1, max_size=5),
    delimiter=st.sampled_from(";,\t|"),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252"]),
)
def test_what_the_standard_librarys_writer_wrote_is_read(rows: list[tuple[str, int, str]], delimiter: str, encoding: str) -> None:
    """Quotes, delimiters and line ends in cells (RFC 4180 sections 2.5 to 2.7), in every encoding.

    Windows-1252 that is UTF-8 as well cannot be told from it; real words are not.
    """
    buffer = io.StringIO(newline="")
    writer = csv.writer(buffer, delimiter=delimiter)
    writer.writerow(["file", "copies", "customer"])
    writer.writerows([f"x{name}.png", copies, f"x{customer}x"] for name, copies, customer in rows)
    text = buffer.getvalue()
    data = text.encode(encoding)
    assume(encoding != "cp1252" or data.decode("utf-8", "replace") == text or "\ufffd" in data.decode("utf-8", "replace"))
    lines = read(data).lines
    said = [(line.file, ticket(line).copies, ticket(line).customer) for line in lines]
    assert said == [
        (f"x{name}.png".replace("\\", "/").rsplit("/", 1)[-1].strip(), copies, f"x{customer}x") for name, copies, customer in rows
    ]


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=300) | st.text(max_size=200).map(lambda text: f"file;copies;due;width\n{text}".encode()))
def test_no_bytes_bring_it_down(data: bytes) -> None:
    """Whatever is in a file called .csv, orders or findings come out, each with a place of its own."""
    orders = read(data)
    assert orders.lines or orders.faults
    assert len({line.line for line in orders.lines}) == len(orders.lines)


@pytest.mark.parametrize(("cell", "rush"), [("yes", True), ("x", True), ("Ja", True), ("sí", True), ("0", False), ("no", False)])
def test_a_column_says_what_is_in_a_rush(cell: str, rush: bool) -> None:
    """Spreadsheets say yes and no in many ways."""
    (line,) = read(f"file;rush\nlogo.png;{cell}\n".encode()).lines
    assert ticket(line).rush is rush
