"""Plots: where things land, and that what is written is well-formed XML (Python's own parser says so)."""

from xml.etree import ElementTree

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmhand.colour.report.plot import Axis, Plot

PLOT = Plot(Axis(0, 100, (0, 50, 100), "sent, %"), Axis(10, -10, (-10, 0, 10), 'odd <names> & "signs"'))


def _points(markup: str) -> np.ndarray:
    return np.array([[float(v) for v in pair.split(",")] for pair in ElementTree.fromstring(markup).attrib["points"].split()])


@given(x=st.floats(0, 100), y=st.floats(-10, 10))
def test_places_are_in_proportion(x: float, y: float) -> None:
    """A point lies between the axis' ends as its value does, to a tenth of a pixel; the y axis here runs downward."""
    (left, foot), (right, top), (at, up) = _points(PLOT.line(np.array([0, 100, x]), np.array([10, -10, y]), "curve"))
    assert at == pytest.approx(left + (right - left) * x / 100, abs=0.11)
    assert up == pytest.approx(foot + (top - foot) * (10 - y) / 20, abs=0.11)


def test_a_figure_is_well_formed_and_names_its_axes() -> None:
    """Names with signs of HTML in them come out as text."""
    xs, ys = np.array([0, 50, 100.0]), np.array([-10, 3, 9.0])
    parts = [
        PLOT.band(xs, ys, ys + 1, "area"),
        PLOT.dots(xs, ys, "dot"),
        PLOT.coloured(xs, ys, ["#ff0000", "#00ff00", "#0000ff"]),
        PLOT.bar(0, 10, 5, "bar"),
        PLOT.upright(30, "mark"),
        PLOT.words(10, 0, "<script>&", anchor="end"),
    ]
    svg = ElementTree.fromstring(PLOT.svg(parts, title="A <figure>"))
    texts = [element.text for element in svg.iter("text")]
    assert {"sent, %", 'odd <names> & "signs"', "<script>&", "0", "50", "100", "−10"} <= set(texts)
    assert svg.attrib["aria-label"] == "A <figure>"
    assert len(list(svg.iter("circle"))) == 3
    assert not list(svg.iter("script"))
