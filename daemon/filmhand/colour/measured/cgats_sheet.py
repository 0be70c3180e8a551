"""The tables of a CGATS file into what was printed and what was seen."""

from collections.abc import Sequence

from filmhand.colour.measured.amount_fields import printed_in
from filmhand.colour.measured.cgats import Table, read_cgats
from filmhand.colour.measured.colour_fields import KINDS, kind_of, seen_in
from filmhand.colour.measured.labels import labels_of
from filmhand.colour.measured.sheet import Sheet
from filmhand.colour.measured.unusable import UnusableChartError


def sheet_in_cgats(data: bytes) -> Sheet:
    """Of several tables, those with the best kind of colour count, as pages of one chart; amounts may stand in another table.

    UnusableChartError, also where two tables show the same patches: nobody says which of them is meant.
    """
    tables = read_cgats(data)
    kinds = {kind_of(table) for table in tables}
    best = next((kind for kind in KINDS if kind in kinds), None)
    coloured = [table for table in tables if kind_of(table) == best]
    chart = _pages(coloured) if best is not None else None
    seen = seen_in(chart) if chart is not None else None
    printed = printed_in(chart) if chart is not None else None
    others = (printed_in(table) for table in tables if table not in coloured or chart is None)
    return Sheet(printed or next((other for other in others if other is not None), None), seen)


def _pages(tables: Sequence[Table]) -> Table:
    """One table of several with the same fields and patches of their own."""
    first = tables[0]
    if len(tables) == 1:
        return first
    if any(table.fields != first.fields for table in tables):
        _refuse("have different columns")
    rows = tuple(row for table in tables for row in table.rows)
    whole = Table(first.keywords, first.fields, rows)
    labels = labels_of(whole)
    if not labels or len(set(labels[0])) < len(rows):
        _refuse("name the same patches")
    return whole


def _refuse(what: str) -> None:
    raise UnusableChartError(
        f"The tables of this file {what}, so they are not pages of one chart", next_step="Keep one table a file and try again"
    )
