"""Which charts a printer's model is fitted to, and what of them."""

from dataclasses import replace

import numpy as np
import pytest

from colour.report.judged import chart
from filmhand.cli.fit_readings import fit_readings
from filmhand.colour.measured.readings import Readings, Spectra
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
        fit_readings([readings], inks=FOUR)


def test_patches_on_full_white_in_the_printers_order() -> None:
    """The chart's columns in another order with white among them; patches on less white are of no use."""
    thin = np.array([[0.5, 0.2, 0, 0, 0.5]])
    amounts = np.concatenate([np.column_stack([CHART.amounts[:, ::-1], np.ones(len(CHART.names))]), thin])
    readings = Readings((*FOUR[::-1], "W"), (*CHART.names, "thin"), amounts, np.concatenate([CHART.xyz, CHART.xyz[:1]]))
    found = fit_readings([readings], inks=FOUR).readings
    assert found.inks == FOUR
    assert found.names == CHART.names
    assert np.array_equal(found.amounts, CHART.amounts)
    assert np.array_equal(found.xyz, CHART.xyz)


def test_a_chart_measured_twice_is_averaged() -> None:
    """The second time in another order of inks and patches: each patch is the mean of both, in light, and the noise is told."""
    again = Readings(FOUR[::-1], CHART.names[::-1], CHART.amounts[::-1, ::-1], CHART.xyz[::-1] * 1.02)
    found = fit_readings([CHART, again], inks=FOUR)
    assert found.readings.names == CHART.names
    assert found.readings.xyz == pytest.approx(CHART.xyz * 1.01)
    assert found.noise_lab is not None


def test_spectra_count_where_all_charts_have_them_alike() -> None:
    """At other wavelengths, or without, XYZ is what is common to both."""
    wide, narrow = (Spectra(np.arange(400.0, end, 10), np.ones((len(CHART.names), (end - 400) // 10))) for end in (710, 690))
    with_wide, with_narrow = (replace(CHART, spectra=spectra) for spectra in (wide, narrow))
    assert fit_readings([with_wide, with_wide], inks=FOUR).readings.spectra is not None
    assert fit_readings([with_wide, with_narrow], inks=FOUR).readings.spectra is None
    assert fit_readings([with_wide, CHART], inks=FOUR).readings.spectra is None


def test_one_name_for_two_patches_is_refused() -> None:
    """In two files, too."""
    other = replace(CHART, names=CHART.names[::-1])
    with pytest.raises(UnusableChartError, match="twice with different inks"):
        fit_readings([CHART, other], inks=FOUR)
