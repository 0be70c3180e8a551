"""A measured chart, from the bytes of its file: CGATS text or CxF 3."""

from dataclasses import replace
from typing import Final

import numpy as np

from filmhand.colour.measured.cgats_sheet import sheet_in_cgats
from filmhand.colour.measured.cxf import sheet_in_cxf
from filmhand.colour.measured.joined import joined
from filmhand.colour.measured.readings import Readings
from filmhand.colour.measured.refusals import refuse_impossible
from filmhand.colour.measured.sheet import Sheet
from filmhand.colour.measured.unusable import UnusableChartError

_WHITE: Final = "W"
_CLOSE: Final = 0.006
"""Amounts that a measuring program rounded to whole percent, or 8 bits, still agree within this."""


def read_chart(data: bytes, *, patch_list: bytes | None = None) -> Readings:
    """What was printed and seen on each patch, in the order measured; white comes last, and not at all where it is always full.

    `patch_list`: the chart's own list, for measurements that name patches but not their inks; where both say the inks they must
    agree. UnusableChartError (unusable.py) says which patch is wrong and what to do; whether the chart is fit for a model is
    for `refusals.refuse_unfit` to say.
    """
    sheet = _sheet(data)
    if sheet.seen is None:
        raise UnusableChartError(
            "This file has no colours that can be used", next_step="Export spectral values, or XYZ or Lab for D50 and 2 degree"
        )
    printed = _sheet(patch_list).printed if patch_list is not None else sheet.printed
    if printed is None:
        raise UnusableChartError(
            "Nothing says with which inks the patches were printed", next_step="Give the patch list that belongs to the chart too"
        )
    if not printed.inks:
        raise UnusableChartError(
            f"Nothing says which {printed.amounts.shape[1]} inks the patches were printed with",
            next_step='Give the patch list, or put a line such as FILMHAND_INKS "C M Y K O" at the head of the file',
        )
    readings = joined(sheet.seen, printed)
    if patch_list is not None and sheet.printed is not None:
        _refuse_other_amounts(readings, joined(sheet.seen, sheet.printed), inks_known=bool(sheet.printed.inks))
    refuse_impossible(readings)
    return _white_last(replace(readings, amounts=np.clip(readings.amounts, 0, 1)))


def _sheet(data: bytes) -> Sheet:
    is_xml = data.lstrip(b"\xef\xbb\xbf\xff\xfe \t\r\n\0").startswith(b"<")
    return sheet_in_cxf(data) if is_xml else sheet_in_cgats(data)


def _refuse_other_amounts(listed: Readings, measured: Readings, *, inks_known: bool) -> None:
    """The list's amounts against those in the file of measurements, both by rows of the measurements."""
    inks = measured.inks if inks_known else listed.inks
    if sorted(inks) != sorted(listed.inks) or measured.amounts.shape != listed.amounts.shape:
        raise UnusableChartError(
            f"The measurements are of {len(inks)} inks ({' '.join(inks)}), the patch list is of {' '.join(listed.inks)}",
            next_step="Give the patch list that was written with this chart",
        )
    own = measured.amounts[:, [inks.index(ink) for ink in listed.inks]]
    wrong = np.flatnonzero((np.abs(own - listed.amounts) > _CLOSE).any(axis=1))
    if len(wrong):
        raise UnusableChartError(
            f"Patch {listed.names[wrong[0]]} has other inks in the measurements than in the patch list ({len(wrong)} such)",
            next_step="Give the patch list that was written with this chart",
        )


def _white_last(readings: Readings) -> Readings:
    if _WHITE not in readings.inks:
        return readings
    white = readings.inks.index(_WHITE)
    order = [i for i in range(len(readings.inks)) if i != white]
    order += [white] if (readings.amounts[:, white] < 1).any() else []
    return replace(readings, inks=tuple(readings.inks[i] for i in order), amounts=readings.amounts[:, order])
