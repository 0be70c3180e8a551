"""Curves that bring a drifted printer back: monotone, undone exactly, kept as JSON; and the ink model seen through them."""

import json

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import ValidationError
from scipy.interpolate import PchipInterpolator

from filmhand.colour.drifted import Drifted, beyond_full
from filmhand.colour.nominal import nominal_model
from filmhand.colour.transfer import Curves, InkCurve, UnusableCurvesError, from_bytes, to_bytes
from filmhand.rules import ColourRules

MODEL = nominal_model(("C", "M", "Y", "K"))
STRONGER = InkCurve(sent=(0, 0.25, 0.5, 0.75, 1), acts_as=(0, 0.3, 0.57, 0.8, 1.08))
WEAKER = InkCurve(sent=(0, 0.4, 1), acts_as=(0, 0.36, 0.93))
CURVES = Curves(model=MODEL.colours_digest, about={"readings": "strip.txt"}, inks={"C": STRONGER, "K": WEAKER})
EVEN = np.linspace(0, 1, 501)


def knots(draws: list[float]) -> tuple[float, ...]:
    """Numbers that rise from 0 to 1."""
    steps = np.cumsum([0.0, *(draw + 0.02 for draw in draws)])
    return tuple((steps / steps[-1]).tolist())


@settings(max_examples=50)
@given(st.lists(st.tuples(st.floats(0, 1), st.floats(0, 1)), min_size=1, max_size=8), st.floats(0.7, 1.3))
def test_curves_rise_and_are_undone(draws: list[tuple[float, float]], full: float) -> None:
    """Any knots that rise make a curve that rises, passes through them, and is undone up to what full ink reaches."""
    curve = InkCurve(sent=knots([x for x, _ in draws]), acts_as=tuple(full * y for y in knots([y for _, y in draws])))
    curves = Curves(model="m", inks={"M": curve})
    acting = curves.acts_as(EVEN[:, None], inks=("M",))
    assert (np.diff(acting[:, 0]) > 0).all()
    assert curves.acts_as(np.array(curve.sent)[:, None], inks=("M",))[:, 0] == pytest.approx(np.array(curve.acts_as), abs=1e-12)
    assert np.abs(curves.sent_for(acting, inks=("M",)) - EVEN[:, None]).max() < 1e-9


def test_like_another_program() -> None:
    """Between knots at even steps as SciPy's monotone cubic, whose inner slopes are Fritsch and Butland's too."""
    curves = Curves(model="m", inks={"C": STRONGER})
    middle = EVEN[(EVEN >= 0.25) & (EVEN <= 0.75)]
    other = PchipInterpolator(STRONGER.sent, STRONGER.acts_as)(middle)
    assert curves.acts_as(middle[:, None], inks=("C",))[:, 0] == pytest.approx(other, abs=2e-5)


def test_an_ink_without_curve_is_left_alone() -> None:
    """Columns follow the letters, whatever their order; inks that are not named pass."""
    amounts = np.random.default_rng(1).random((20, 3))
    acting = CURVES.acts_as(amounts, inks=("Y", "K", "C"))
    assert np.array_equal(acting[:, 0], amounts[:, 0])
    assert acting[:, 1] == pytest.approx(CURVES.acts_as(amounts[:, 1:2], inks=("K",))[:, 0])
    assert (acting[:, 1] < amounts[:, 1]).all()


def test_there_and_back_as_json() -> None:
    """What is written is read again; a person can read it too."""
    assert from_bytes(to_bytes(CURVES)) == CURVES
    facts = json.loads(to_bytes(CURVES))
    assert facts["inks"]["K"]["sent"] == [0, 0.4, 1]
    assert facts["format"] == "filmhand drift curves"


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"{}",
        b"\xff\xfe",
        to_bytes(CURVES).replace(b'"version": 1', b'"version": 9'),
        to_bytes(CURVES).replace(b"drift curves", b"ink model"),
        to_bytes(CURVES).replace(b"0.36", b"0.96"),  # falls
        to_bytes(CURVES).replace(b"0.36", b"NaN"),
        to_bytes(CURVES).replace(b"1.08", b"7.5"),  # no curve
        to_bytes(CURVES)[:-20],
    ],
)
def test_damaged_files(content: bytes) -> None:
    """Each is refused with a word on what is wrong."""
    with pytest.raises(UnusableCurvesError, match=r"\w"):
        from_bytes(content)


@pytest.mark.parametrize(
    ("sent", "acts_as"), [((0, 1), (0, 0)), ((0, 0.5), (0, 0.5)), ((0.1, 1), (0, 1)), ((0, 1), (0, 0.5, 1)), ((), ())]
)
def test_knots_that_make_no_curve(sent: tuple[float, ...], acts_as: tuple[float, ...]) -> None:
    """Level, short of full ink, not from 0, unequal in number, none."""
    with pytest.raises(ValidationError):
        InkCurve(sent=sent, acts_as=acts_as)


def test_a_drifted_model_prints_as_charted() -> None:
    """Colours within reach come back: the inks sent today look as the charted inks did, and are the inverse's own otherwise."""
    drifted = Drifted(MODEL, CURVES)
    inks = np.random.default_rng(2).random((300, 4)) * [0.6, 0.6, 0.6, 0.5]
    wanted, rules = MODEL.xyz(inks), ColourRules(ink_limit=300, black_point_compensation=False)
    sent = drifted.exact_inks_for(wanted, rules)
    assert np.abs(drifted.xyz(sent) - MODEL.xyz(MODEL.exact_inks_for(wanted, rules))).max() < 1e-6
    assert (drifted.inks, drifted.yule_nielsen, drifted.is_nominal) == (MODEL.inks, MODEL.yule_nielsen, MODEL.is_nominal)


def test_no_curves_change_nothing_but_the_digest() -> None:
    """Without an ink that moved, the model is the charted one; any curve makes another digest, so that no old table is used."""
    plain = Drifted(MODEL, Curves(model=MODEL.colours_digest, inks={}))
    colours, rules = np.random.default_rng(3).random((50, 3)) * 0.8, ColourRules()
    assert np.array_equal(plain.inks_for(colours, rules), MODEL.inks_for(colours, rules))
    other = Curves(model=MODEL.colours_digest, inks={"C": WEAKER})
    assert len({MODEL.digest, plain.digest, Drifted(MODEL, CURVES).digest, Drifted(MODEL, other).digest}) == 4


@pytest.mark.parametrize("limit", [120, 200])
def test_the_ink_limit_holds(limit: float) -> None:
    """A weaker printer is sent more of each ink, but never more together than the rule allows."""
    weaker = Drifted(MODEL, Curves(model=MODEL.colours_digest, inks=dict.fromkeys("CMYK", WEAKER)))
    colours = np.random.default_rng(4).random((300, 3)) ** 3
    rules = ColourRules(ink_limit=limit)
    assert MODEL.inks_for(colours, rules).sum(axis=1).max() == pytest.approx(limit / 100, abs=0.005)
    assert weaker.inks_for(colours, rules).sum(axis=1).max() <= limit / 100 * 1.005


def test_beyond_full_ink() -> None:
    """Within full ink it is the model itself; beyond, an ink goes on darkening without a step or a kink."""
    ramp = np.zeros((41, 4))
    ramp[:, 1] = np.linspace(0.8, 1.2, 41)
    light = beyond_full(MODEL, ramp)[:, 1]
    assert light[:21] == pytest.approx(MODEL.xyz(ramp[:21])[:, 1], abs=1e-12)
    steps = np.diff(light)
    assert (steps < 0).all()
    assert np.abs(np.diff(steps)).max() < 0.1 * np.abs(steps).max()
