"""The columns of a CGATS table that name its patches."""

from typing import Final

from filmhand.colour.measured.cgats import Table
from filmhand.colour.measured.sheet import Labels

_NAMING: Final = ("SAMPLE_NAME", "SAMPLE_ID", "SAMPLE_LOC", "SAMPLEID", "SAMPLENAME", "SAMPLE", "ID", "NAME", "PATCH", "STRING")
"""CGATS.17 has the first three and the last; the best for a person first."""


def labels_of(table: Table) -> Labels:
    """Columns (m words each) with no gap; those that tell every patch from every other come first."""
    capitals = [name.upper() for name in table.fields]
    columns = [tuple(row[capitals.index(name)] for row in table.rows) for name in _NAMING if name in capitals]
    whole = [column for column in columns if all(column)]
    return tuple(sorted(whole, key=lambda column: len(set(column)) < len(column)))
