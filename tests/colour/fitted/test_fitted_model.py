"""The fitted model against published characterisation data: patches that it has not seen."""

import numpy as np
import pytest

from colour.published_sets import SETS, published
from filmhand.colour.ciede2000 import difference
from filmhand.colour.cielab import D50_WHITE, lab_from_xyz
from filmhand.colour.fitted.accuracy import accuracy
from filmhand.colour.fitted.file import UnusableInksError, from_bytes, to_bytes
from filmhand.colour.fitted.fit import fit
from filmhand.colour.measured.readings import Readings
from filmhand.colour.opacity import Opacity

# Bars for FOGRA39L; each of the other sets is another press and paper, and newsprint (TR002) an average of 102 real print runs.
_ROUGH = {"TR002": 0.55}


@pytest.mark.outside
@pytest.mark.parametrize("name", SETS)
def test_a_small_chart_foretells_all_other_patches(name: str) -> None:
    """At most 160 patches."""
    data = published(name)
    chart = data.small
    assert chart.sum() <= 160
    model = fit(data.readings(chart)).model
    missed = difference(lab_from_xyz(model.absolute_xyz(data.amounts[~chart])), data.lab[~chart])
    assert missed.mean() <= _ROUGH.get(name, 0.5)
    assert np.percentile(missed, 95) <= 1.2
    assert missed.max() <= 2.0


@pytest.mark.outside
@pytest.mark.parametrize("name", SETS)
def test_a_larger_chart_foretells_them_better(name: str) -> None:
    """At most 420 patches."""
    data = published(name)
    chart = data.medium
    assert chart.sum() <= 420
    model = fit(data.readings(chart)).model
    missed = difference(lab_from_xyz(model.absolute_xyz(data.amounts[~chart])), data.lab[~chart])
    assert missed.mean() <= _ROUGH.get(name, 0.28)


@pytest.mark.outside
@pytest.mark.parametrize("name", SETS)
def test_scatter_is_smoothed_and_told(name: str) -> None:
    """Normal noise of 0.4 in L*, a* and b*: the model is within ΔE00 1 of the truth, and says how much scatter there is."""
    data = published(name)
    chart = data.small
    model = fit(data.readings(chart, noise=0.4, seed=1)).model
    missed = difference(lab_from_xyz(model.absolute_xyz(data.amounts[~chart])), data.lab[~chart])
    assert missed.mean() <= 1.0
    assert model.rest.noise == pytest.approx([0.4] * 3, abs=0.2)


@pytest.mark.outside
def test_cross_validation_tells_the_truth() -> None:
    """What it says of a chart's patches is about what comes true on others."""
    data = published("FOGRA39L")
    chart = data.medium
    fitted = fit(data.readings(chart, noise=0.3, seed=2))
    said = accuracy(fitted, ink_limit=3.0)
    seen = published("FOGRA39L").readings(~chart, noise=0.3, seed=3)
    missed = difference(lab_from_xyz(fitted.model.absolute_xyz(seen.amounts)), lab_from_xyz(seen.xyz))
    assert said.mean == pytest.approx(missed.mean(), rel=0.35)
    assert said.worst[0].delta_e == said.largest


@pytest.mark.outside
def test_a_misread_patch_is_named_and_left_out() -> None:
    """A patch read as its neighbour on the chart."""
    data = published("FOGRA39L")
    readings = data.readings(data.medium)
    wrong = int(np.flatnonzero((readings.amounts == [0.4, 0.4, 0.7, 0.2]).all(axis=1))[0])
    other = int(np.flatnonzero((readings.amounts == [0.7, 0.4, 0.0, 0.2]).all(axis=1))[0])
    readings.xyz[wrong] = readings.xyz[other]
    result = fit(readings)
    assert [stray.name for stray in result.strays] == [readings.names[wrong]]
    assert readings.names[wrong] not in result.used.names


@pytest.mark.outside
def test_overprints_that_were_not_printed_are_inferred() -> None:
    """A chart that keeps an ink limit of 260 % has hardly an overprint of three inks."""
    data = published("FOGRA39L")
    within = data.amounts.sum(axis=1) <= 2.6
    chart = data.nodes(*[(0.0, 0.2, 0.4, 0.7, 1.0)] * 4) & within
    model = fit(data.readings(chart)).model
    held = within & ~chart
    missed = difference(lab_from_xyz(model.absolute_xyz(data.amounts[held])), data.lab[held])
    assert missed.mean() <= 0.4
    assert np.percentile(missed, 95) <= 1.2


@pytest.mark.outside
def test_repeats_make_it_surer() -> None:
    """The same chart read three times: nearer to the truth than read once."""
    data = published("FOGRA39L")
    chart = data.medium
    once = data.readings(chart, noise=0.7, seed=4)
    again = [data.readings(chart, noise=0.7, seed=seed) for seed in (5, 6)]
    thrice = Readings(
        once.inks,
        once.names * 3,
        np.concatenate([once.amounts, *(one.amounts for one in again)]),
        np.concatenate([once.xyz, *(one.xyz for one in again)]),
    )
    missed = [
        difference(lab_from_xyz(fit(readings).model.absolute_xyz(data.amounts[~chart])), data.lab[~chart]).mean()
        for readings in (once, thrice)
    ]
    assert missed[1] < 0.85 * missed[0]


@pytest.mark.outside
def test_a_chart_without_a_full_ink_is_refused() -> None:
    """Nothing could be said of its halftones."""
    data = published("FOGRA39L")
    magenta = (data.amounts == [0, 1, 0, 0]).all(axis=1)
    with pytest.raises(ValueError, match="without M"):
        fit(data.readings(data.small & ~magenta))


@pytest.mark.outside
def test_the_file_holds_the_model() -> None:
    """To a thousandth ΔE00; and once read, it is written the same again."""
    data = published("FOGRA39L")
    model = fit(data.readings(data.small)).model
    white = Opacity(np.full(3, 0.9), np.array([2.0, 2.1, 2.2]), D50_WHITE, closes_at=0.5, yule_nielsen=1.2)
    content = to_bytes(model, about={"chart": "made up"}, opacity=white)
    kept = from_bytes(content)
    again = kept.model
    assert kept.about == {"chart": "made up"}
    assert kept.opacity is not None
    assert kept.opacity.white(0.7, garment=0.1 * D50_WHITE) == pytest.approx(white.white(0.7, garment=0.1 * D50_WHITE))
    assert to_bytes(again, about=kept.about, opacity=kept.opacity) == content
    off = difference(lab_from_xyz(again.xyz(data.amounts)), lab_from_xyz(model.xyz(data.amounts)))
    assert off.max() <= 1e-3
    assert from_bytes(content).model.digest == again.digest


@pytest.mark.parametrize(
    ("content", "word"),
    [
        (b"", "JSON"),
        (b"[]", "format"),
        (b'{"format": "filmhand ink model", "version": 9}', "version 9"),
        (b'{"format": "filmhand ink model", "version": 1, "about": {}}', "lacks"),
    ],
)
def test_a_damaged_file_is_refused_with_the_reason(content: bytes, word: str) -> None:
    """Never half a model."""
    with pytest.raises(UnusableInksError, match=word):
        from_bytes(content)
