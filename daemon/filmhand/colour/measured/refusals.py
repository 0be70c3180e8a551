"""Readings that cannot be right, and charts that a printer's colour cannot be fitted to: which patch, and why."""

from typing import Final, NoReturn

import numpy as np
from numpy.typing import NDArray

from filmhand.colour.measured.order import order_problem
from filmhand.colour.measured.readings import Floats, Readings
from filmhand.colour.measured.unusable import UnusableChartError

_WHITE: Final = "W"
_BRIGHTEST: Final = 1.2
"""Brighteners lift white film and powder above the perfect diffuser, but not so far (common practice, no source)."""
_DARKEST: Final = -0.005
"""Noise of an instrument on solid black may fall just below nothing (common practice, no source)."""
_HAIR: Final = 5e-4
"""Amounts nearer than this are the same: half of what an 8-bit file can tell is 2e-3."""
_FEWEST_AN_INK: Final = 3
"""Patches an ink, beside the white one, below which no curve can be drawn (common practice, no source)."""


def refuse_impossible(readings: Readings) -> None:
    """UnusableChartError for what no print can be: amounts outside 0 to 100 %, light outside what a surface sends back, or
    patches of one name with different amounts."""
    _refuse_amounts(readings)
    light = readings.xyz if readings.spectra is None else readings.spectra.reflectances
    for wrong, what in ((light < _DARKEST, "less than none"), (light > _BRIGHTEST, f"more than {100 * _BRIGHTEST:.0f} %")):
        rows = np.flatnonzero(wrong.any(axis=1))
        if len(rows):
            _refuse(
                f"Patch {readings.names[rows[0]]} sends back {what} of the light that falls on it ({len(rows)} such)",
                "Calibrate the instrument on its white tile and measure again",
            )
    first: dict[str, Floats] = {}
    for name, amounts in zip(readings.names, readings.amounts, strict=True):
        if np.abs(first.setdefault(name, amounts) - amounts).max(initial=0) > _HAIR:
            _refuse(f"Patch {name} stands there twice with different inks", "Give every patch a name of its own")


def refuse_unfit(readings: Readings) -> None:
    """UnusableChartError where no ink model can be fitted: white or a full ink missing, too few patches, white darker than full
    ink, or colours that do not go with the inks, as when a sheet was measured upside down."""
    white = _patches_of(readings, None)
    if not white.any():
        _refuse("The chart has no patch of bare white", "Print and measure a chart that has one")
    for ink in readings.inks:
        full = _patches_of(readings, ink)
        if not full.any():
            _refuse(f"The chart has no patch of full {ink} alone", f"Print and measure a chart with {ink} at 100 %")
        if ink != _WHITE and readings.xyz[full, 1].min() >= readings.xyz[white, 1].mean():
            name = readings.names[int(np.flatnonzero(full)[0])]
            _refuse(
                f"Patch {name}, full {ink}, is no darker than bare white",
                "See that the patch list belongs to this chart and that the sheet was not measured upside down",
            )
    distinct = len(np.unique(np.round(readings.amounts, 3), axis=0))
    fewest = 1 + _FEWEST_AN_INK * len(readings.inks)
    if distinct < fewest:
        _refuse(
            f"{distinct} different patches are too few for {len(readings.inks)} inks: {fewest} are the least",
            "Print and measure a larger chart",
        )
    problem = order_problem(readings)
    if problem is not None:
        _refuse(problem, "See that the patch list belongs to this chart, and measure the sheet again from its first patch")


def _refuse_amounts(readings: Readings) -> None:
    for wrong, what in ((readings.amounts > 1 + _HAIR, "more than 100 %"), (readings.amounts < -_HAIR, "less than 0 %")):
        rows, columns = np.nonzero(wrong)
        if len(rows):
            patch, ink = readings.names[rows[0]], readings.inks[columns[0]]
            _refuse(
                f"Patch {patch} has {what} of {ink} ({len(rows)} such)", "Amounts are percent of full ink: mend the patch list"
            )


def _patches_of(readings: Readings, ink: str | None) -> NDArray[np.bool_]:
    """Rows (m,) on full white with one ink in full and no other, or with none at all."""
    wanted = np.array([float(letter in (ink, _WHITE)) for letter in readings.inks])
    return np.asarray((np.abs(readings.amounts - wanted) <= 10 * _HAIR).all(axis=1))


def _refuse(what: str, next_step: str) -> NoReturn:
    raise UnusableChartError(what, next_step=next_step)
