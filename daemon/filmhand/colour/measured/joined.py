"""Measurements beside the patch list they belong to."""

import re
from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.measured.readings import Readings
from filmhand.colour.measured.sheet import Labels, Printed, Seen, names_of
from filmhand.colour.measured.unusable import UnusableChartError

_LEADING_ZEROS: Final = re.compile(r"(?<![0-9])0+(?=[0-9])")


def joined(seen: Seen, printed: Printed) -> Readings:
    """Each colour with the amounts of the patch of the same name, in the order of the measurements.

    Names are compared without regard to case and leading zeros ("a01" is "A1"); where neither side, or just one, has names, by
    order. A patch may have been measured several times. UnusableChartError names the first patch without its partner.
    """
    rows = _partners(seen, printed)
    names = names_of(seen.labels or printed.labels, len(rows))
    return Readings(printed.inks, names, printed.amounts[rows], seen.xyz, seen.spectra)


def _partners(seen: Seen, printed: Printed) -> NDArray[np.intp]:
    """For each colour the row of `printed`."""
    count = len(seen.xyz)
    if seen.labels == printed.labels or not (seen.labels and printed.labels):
        if count != len(printed.amounts):
            _refuse(f"{count} patches were measured, but {len(printed.amounts)} were printed, and they have no names to go by")
        return np.arange(count)
    columns = [[_plain(label) for label in column] for column in seen.labels]
    places = [{_plain(label): row for row, label in enumerate(column)} for column in printed.labels]
    telling = [place for place in places if len(place) == len(printed.amounts)]
    if not telling:
        _refuse(f"The patch list has the name {_twice(printed.labels)!r} more than once")
    column, place = max(
        ((column, place) for column in columns for place in telling),
        key=lambda pair: sum(label in pair[1] for label in pair[0]),
    )
    return _rows(column, place, printed.labels[0])


def _rows(column: Sequence[str], place: Mapping[str, int], names: Sequence[str]) -> NDArray[np.intp]:
    strangers = [label for label in column if label not in place]
    if strangers:
        _refuse(f"Patch {strangers[0]!r} was measured, but is not in the patch list ({len(strangers)} such)")
    rows = [place[label] for label in column]
    missing = sorted(set(range(len(names))) - set(rows))
    if missing:
        _refuse(f"Patch {names[missing[0]]!r} of the patch list was not measured ({len(missing)} such)")
    return np.array(rows, dtype=np.intp)


def _plain(label: str) -> str:
    return _LEADING_ZEROS.sub("", label.strip().casefold())


def _twice(labels: Labels) -> str:
    plain = [_plain(label) for label in labels[0]]
    return next(label for label, known in zip(labels[0], plain, strict=True) if plain.count(known) > 1)


def _refuse(what: str) -> None:
    raise UnusableChartError(
        what, next_step="Give the patch list that was written with this chart, and measure all of its patches"
    )
