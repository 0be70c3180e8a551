"""From a measured chart's readings to those that an ink model of this printer is fitted to, or a refusal that says why not."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations

import numpy as np

from filmhand.colour.fitted.fit import chosen
from filmhand.colour.measured.readings import Readings, Spectra
from filmhand.colour.measured.refusals import refuse_impossible, refuse_unfit
from filmhand.colour.measured.repeats import Averaged, averaged
from filmhand.colour.measured.unusable import UnusableChartError
from filmhand.colour.sectors import sectors
from filmhand.rules import WHITE


def fit_readings(charts: Sequence[Readings], *, inks: Sequence[str]) -> Averaged:
    """All charts together, repeats averaged, columns in the order of the printer's colour inks, patches on full white only.

    UnusableChartError where a chart is of other inks, or all of them have too little for a model of these.
    """
    for chart in charts:
        _refuse_other_inks(chart, inks)
    whole = _together([_in_order(_on_full_white(chart), inks) for chart in charts])
    refuse_impossible(whole)  # names that stand for one patch here and for another there
    result = averaged(whole)
    refuse_unfit(result.readings)
    _refuse_unmixed(result.readings)
    return result


def _refuse_other_inks(readings: Readings, inks: Sequence[str]) -> None:
    printed = set(readings.inks) - {WHITE}
    if missing := [ink for ink in inks if ink not in printed]:
        raise UnusableChartError(
            f"The chart is of {' '.join(readings.inks)}; this printer also has {' '.join(missing)}",
            next_step="Print and measure a chart of all inks that the printer file names, or take out those that are not in use",
        )
    if strange := [ink for ink in readings.inks if ink in printed and ink not in inks]:
        raise UnusableChartError(
            f"The chart was printed with {' '.join(strange)}, which this printer does not have",
            next_step="Give the chart that was printed on this printer, or add the ink to the printer file",
        )


def _on_full_white(readings: Readings) -> Readings:
    """Without the column of white, and without patches that lie on less than full white: they are of no use to an ink model."""
    if WHITE not in readings.inks:
        return readings
    column = readings.inks.index(WHITE)
    kept = chosen(readings, readings.amounts[:, column] == 1)
    inks = tuple(ink for ink in readings.inks if ink != WHITE)
    return replace(kept, inks=inks, amounts=np.delete(kept.amounts, column, axis=1))


def _in_order(readings: Readings, inks: Sequence[str]) -> Readings:
    columns = [readings.inks.index(ink) for ink in inks]
    return replace(readings, inks=tuple(str(ink) for ink in inks), amounts=readings.amounts[:, columns])


def _together(charts: Sequence[Readings]) -> Readings:
    """One after the other; spectra only where all have them at the same wavelengths."""
    spectra = [chart.spectra for chart in charts if chart.spectra is not None]
    is_alike = len(spectra) == len(charts) and all(np.array_equal(one.wavelengths, spectra[0].wavelengths) for one in spectra)
    return Readings(
        charts[0].inks,
        tuple(name for chart in charts for name in chart.names),
        np.concatenate([chart.amounts for chart in charts]),
        np.concatenate([chart.xyz for chart in charts]),
        Spectra(spectra[0].wavelengths, np.concatenate([one.reflectances for one in spectra])) if is_alike else None,
    )


def _refuse_unmixed(readings: Readings) -> None:
    """Single inks do not tell what two of them give over one another: that depends on wetness, order and heat."""
    for sector in sectors(readings.inks):
        for pair in combinations(sector, 2):
            columns = [readings.inks.index(ink) for ink in pair]
            if not (readings.amounts[:, columns] > 0).all(axis=1).any():
                raise UnusableChartError(
                    f"The chart has no patch with {pair[0]} and {pair[1]} over one another",
                    next_step="Print and measure the grid or sector chart that filmhand chart writes for this printer",
                )
