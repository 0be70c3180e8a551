"""A judged chart of a synthetic printer, small enough for tests of its report."""

from datetime import UTC, datetime
from functools import cache

import numpy as np

from colour.synthetic import SyntheticPrinter
from filmhand.colour.charted import ChartedModel
from filmhand.colour.expense import Expense
from filmhand.colour.fitted.accuracy import accuracy
from filmhand.colour.fitted.fit import fit
from filmhand.colour.measured.readings import Readings
from filmhand.colour.measured.repeats import averaged
from filmhand.colour.report.facts import Judged, MeasuredChart
from filmhand.colour.sectors import sectors

HOSTILE = '<b>&"patches" 50 %</b>.txt'


def chart(inks: tuple[str, ...], *, mixtures: int = 60, noise: float = 0.3) -> Readings:
    """Paper, wedges, solids of every pair in a sector, and mixtures at random; XYZ only, which are fitted sooner."""
    rng = np.random.default_rng(5)
    k = len(inks)
    rows = [np.zeros(k)]
    for column in range(k):
        rows += [step * np.eye(k)[column] for step in (0.1, 0.25, 0.4, 0.55, 0.7, 0.85, 1.0)]
    for sector in sectors(inks):
        columns = [inks.index(ink) for ink in sector]
        rows += [np.eye(k)[a] + np.eye(k)[b] for a in columns for b in columns if a < b]
        for _ in range(mixtures // len(sectors(inks))):
            row = np.zeros(k)
            row[columns] = rng.random(len(columns))
            rows.append(row)
    distinct = np.unique(np.round(rows, 2), axis=0)
    seen = SyntheticPrinter(inks).measure(distinct, noise_lab=noise, seed=7)
    return Readings(seen.inks, tuple(f"P{i}" for i in range(len(distinct))), seen.amounts, seen.xyz)


@cache
def judged(*inks: str) -> Judged:
    """As `filmhand fit` has it."""
    readings = chart(inks)
    averages = averaged(readings)
    fitted = fit(averages.readings)
    return Judged(
        name="house",
        printer="the <old> printer & co",
        when=datetime(2025, 3, 4, 2, 7, tzinfo=UTC),
        chart=MeasuredChart((HOSTILE,), ("0123456789abcdef" * 4,), len(readings.names), averages),
        fit=fitted,
        accuracy=accuracy(fitted, ink_limit=2.2),
        model=ChartedModel(fitted.model, Expense.even(len(inks))),
        ink_limit=2.2,
    )
