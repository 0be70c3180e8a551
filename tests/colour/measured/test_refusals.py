"""Charts that cannot be used: which patch, and why."""

from dataclasses import replace

import numpy as np
import pytest

from colour.synthetic import SyntheticPrinter
from filmhand.colour.measured.order import order_problem
from filmhand.colour.measured.read import read_chart
from filmhand.colour.measured.readings import Readings
from filmhand.colour.measured.refusals import refuse_unfit
from filmhand.colour.measured.unusable import UnusableChartError
from filmhand.errors import ExitCode, SettingsError


def wedges() -> Readings:
    """Seven steps of C and of K, whose light falls tenfold and fiftyfold (invented)."""
    steps = np.linspace(0, 1, 7)
    amounts = np.array([[step, 0.0] for step in steps] + [[0.0, step] for step in steps[1:]])
    light = 0.85 * 10.0 ** -(amounts @ [1.0, 1.7])
    names = tuple(f"A{i}" for i in range(1, 14))
    return Readings(("C", "K"), names, amounts, light[:, None] * [0.9642, 1, 0.8249])


def without(readings: Readings, *rows: int) -> Readings:
    """Some rows taken out."""
    kept = [i for i in range(len(readings.names)) if i not in rows]
    return Readings(readings.inks, tuple(readings.names[i] for i in kept), readings.amounts[kept], readings.xyz[kept])


def test_a_chart_that_serves() -> None:
    """Nothing is said."""
    refuse_unfit(wedges())


@pytest.mark.parametrize(
    ("chart", "words"),
    [
        (without(wedges(), 0), "no patch of bare white"),
        (without(wedges(), 6), "no patch of full C alone"),
        (without(wedges(), 12), "no patch of full K alone"),
        (without(wedges(), 1, 2, 3, 4, 5, 7, 8, 9), "5 different patches are too few"),
        (replace(wedges(), xyz=np.where(np.arange(13)[:, None] == 12, 0.9, wedges().xyz)), "Patch A13, full K, is no darker"),
        (replace(wedges(), inks=("C", "W")), "no patch of full C alone"),  # there is full C without white only
        (without(replace(wedges(), inks=("C", "W")), 12), "no patch of bare white"),
    ],
)
def test_unfit(chart: Readings, words: str) -> None:
    """White, full inks, enough patches, and dark where there is ink."""
    with pytest.raises(UnusableChartError, match=words):
        refuse_unfit(chart)


def file(rows: str, fields: str = "XYZ_X XYZ_Y XYZ_Z") -> bytes:
    """Rows of a name, C, K and colour."""
    text = f"BEGIN_DATA_FORMAT\nSAMPLE_ID CMYK_C CMYK_K {fields}\nEND_DATA_FORMAT\nBEGIN_DATA\n{rows}END_DATA\n"
    return text.encode()


WHITE = "1 0 0 82 85 70\n"


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (file(WHITE + "2 101 0 10 10 10\n"), "Patch 2 has more than 100 % of C"),
        (file(WHITE + "2 0 -3 10 10 10\n"), "Patch 2 has less than 0 % of K"),
        (file(WHITE + "2 0 255 10 10 10\n3 0 128 30 30 30\n"), r"Patch 2 has more than 100 % of K \(2 such\)"),
        (file(WHITE + "2 0 100 10 -1 10\n"), "Patch 2 sends back less than none"),
        (file("7 0 0 118 125 100\n" + WHITE), "Patch 7 sends back more than 120 %"),
        (file(WHITE + "1 0 100 2 2 2\n"), "Patch 1 stands there twice with different inks"),
        (
            file(
                f"1 0 0 {' '.join(['85'] * 31)}\n2 0 0 {' '.join(['130'] * 31)}\n",
                " ".join(f"nm{n}" for n in range(400, 701, 10)),
            ),
            "Patch 2 sends back more than 120 %",
        ),
    ],
)
def test_impossible(data: bytes, words: str) -> None:
    """Refused as soon as it is read."""
    with pytest.raises(UnusableChartError, match=words) as refused:
        read_chart(data)
    assert refused.value.next_step
    assert isinstance(refused.value, SettingsError)
    assert refused.value.exit_code == ExitCode.SETTINGS


def test_just_within() -> None:
    """The same patch measured again under its name, black a hair below nothing, and bright white are no faults."""
    found = read_chart(file(WHITE + "2 0 100.03 1 -0.3 1\n2 0 100.03 1 1 1\n3 100 0 100 105 90\n"))
    assert found.names == ("1", "2", "2", "3")
    assert found.amounts.max() == 1


def test_full_white_is_left_out() -> None:
    """White ink that is full everywhere is no ink of the chart; where it varies it is the last."""
    full = file("1 0 100 50 50 50\n2 0 100 50 50 50\n").replace(b"CMYK_C CMYK_K", b"INK_C INK_W")
    assert read_chart(full).inks == ("C",)
    wedge = file("1 100 0 50 50 50\n2 50 0 50 50 50\n").replace(b"CMYK_C CMYK_K", b"INK_W INK_C")
    found = read_chart(wedge)
    assert found.inks == ("C", "W")
    assert found.amounts.tolist() == [[0, 1], [0, 0.5]]


@pytest.mark.parametrize("count", [60, 400])
def test_eight_inks(count: int) -> None:
    """A chart of the synthetic printer (synthetic.py: invented, nothing measured) with up to four inks a patch is let pass as it
    is; begun five patches late it is found out."""
    rng = np.random.default_rng(count)
    amounts = np.zeros((count, 8))
    amounts[1:9] = np.eye(8)
    for row in amounts[9:]:
        row[rng.choice(8, rng.integers(1, 5), replace=False)] = rng.choice([0.1, 0.25, 0.5, 0.75, 1])
    chart = SyntheticPrinter(tuple("CMYKRGBO")).measure(amounts, noise_lab=0.4)
    refuse_unfit(chart)
    late = order_problem(replace(chart, xyz=np.roll(chart.xyz, -5, axis=0)))
    assert late is not None
    assert late.endswith(f"began at patch {chart.names[5]}")
