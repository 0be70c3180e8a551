"""Which charts a printer's model is fitted to, and what of them."""

import numpy as np
import pytest

from colour.report.judged import chart
from filmhand.cli.fit_readings import fit_readings
from filmhand.colour.measured.readings import Readings
from filmhand.colour.measured.unusable import UnusableChartError

FOUR = ("C", "M", "Y", "K")
CHART = chart(FOUR)
MIXED = (CHART.amounts > 0).sum(axis=1)
FULL = (CHART.amounts == 1).any(axis=1)
C_AND_K = (CHART.amounts[:, 0] > 0) & (CHART.amounts[:, 3] > 0)


def _some(keep: np.ndarray) -> Readings:
    names = tuple(name for name, kept in zip(CHART.names, keep, strict=True) if kept)
    return Readings(CHART.inks, names, CHART.amounts[keep], CHART.xyz[keep])


@pytest.mark.parametrize(
    ("readings", "words"),
    [
        (chart((*FOUR, "O")), "printed with O, which this printer does not have"),
        (chart(("C", "M", "Y")), "this printer also has K"),
        (_some(~C_AND_K), "no patch with C and K over one another"),
        (_some(MIXED > 0), "no patch of bare white"),
        (_some(~(FULL & (MIXED == 1) & (CHART.amounts[:, 1] > 0))), "no patch of full M alone"),
        (_some((MIXED == 0) | FULL & (MIXED == 1)), "too few"),
    ],
    ids=["strange ink", "missing ink", "no mixtures", "no white", "no solid", "few"],
)
def test_charts_that_cannot_serve_are_refused(readings: Readings, words: str) -> None:
    """Each refusal says what is missing."""
    with pytest.raises(UnusableChartError, match=words):
        fit_readings(readings, inks=FOUR)


def test_patches_on_full_white_in_the_printers_order() -> None:
    """The chart's columns in another order with white among them; patches on less white are of no use."""
    thin = np.array([[0.5, 0.2, 0, 0, 0.5]])
    amounts = np.concatenate([np.column_stack([CHART.amounts[:, ::-1], np.ones(len(CHART.names))]), thin])
    readings = Readings((*FOUR[::-1], "W"), (*CHART.names, "thin"), amounts, np.concatenate([CHART.xyz, CHART.xyz[:1]]))
    found = fit_readings(readings, inks=FOUR).readings
    assert found.inks == FOUR
    assert found.names == CHART.names
    assert np.array_equal(found.amounts, CHART.amounts)
    assert np.array_equal(found.xyz, CHART.xyz)
