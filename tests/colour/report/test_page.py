"""The page of a synthetic printer: whole, harmless, and saying the model's figures."""

import re
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest

from colour.report.judged import HOSTILE, chart, judged
from filmhand.colour.cielab import D50_WHITE
from filmhand.colour.fitted.accuracy import Accuracy
from filmhand.colour.fitted.fit import Stray
from filmhand.colour.measured.readings import Readings
from filmhand.colour.opacity import Opacity
from filmhand.colour.opacity_fit import fit_opacity
from filmhand.colour.report.facts import Judged, WhiteWedge
from filmhand.colour.report.ink_use import ORDER, everyday, gray_axes
from filmhand.colour.report.misses import foretelling_misses
from filmhand.colour.report.page import report_page
from filmhand.colour.report.tones import measured_tones, tones
from filmhand.colour.report.verdict import Level, verdict
from filmhand.colour.tone import area, density

FOUR = ("C", "M", "Y", "K")
VOID = {"meta", "br", "link", "img", "input", "hr"}


class _Reader(HTMLParser):
    """Checks that every element is closed in its order; keeps the words, and what elements point at."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.words: list[str] = []
        self.tags: set[str] = set()
        self.attributes: list[tuple[str, str | None]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.attributes += attrs
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        self.attributes += attrs

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] != "style":
            self.words.append(data)


@pytest.fixture(scope="module")
def read() -> _Reader:
    """The page of four inks with a white wedge, read."""
    reader = _Reader()
    reader.feed(report_page(replace(judged(*FOUR), white=_wedge())))
    return reader


def _wedge() -> WhiteWedge:
    opacity = Opacity(np.full(3, 0.9), np.full(3, 2.0), 0.8 * D50_WHITE)
    amounts = np.linspace(0, 1, 6)

    def over(ground: float) -> Readings:
        xyz = np.array([opacity.white(float(amount), garment=ground * D50_WHITE) for amount in amounts])
        return Readings(("W",), tuple("abcdef"), amounts[:, None], xyz)

    black, white = over(0.03), over(0.8)
    return WhiteWedge(black, white, fit_opacity(black=black, white=white))


def test_the_page_is_whole_and_fetches_nothing(read: _Reader) -> None:
    """All elements are closed; no script, picture or link; names with signs of HTML in them are words."""
    assert read.open == []
    assert not read.tags & {"script", "img", "link", "iframe", "object", "a"}
    assert not [name for name, value in read.attributes if name.startswith("on") or name in ("src", "href")]
    text = "".join(read.words)
    assert HOSTILE in text
    assert "the <old> printer & co" in text


def test_the_page_says_the_figures(read: _Reader) -> None:
    """Mean, 95th percentile and maximum, the worst patch, solids, factor, the chart's digest, and the contrast of full white.

    By Kubelka and Munk (check of tests/colour/test_opacity.py) R∞ 0.9 and SX 2 over 0.03 and over 0.8.
    """
    one = judged(*FOUR)
    text = "".join(read.words)
    for value in (one.accuracy.mean, one.accuracy.percentile95, one.accuracy.largest, one.accuracy.scatter):
        assert f"{value:.2f}" in text
    assert one.accuracy.worst[0].name in text
    assert f"{one.fit.model.yule_nielsen:.1f}" in text
    assert "0123456789abcdef" * 4 in text
    assert one.fit.model.digest in text
    assert re.search(r"full white sends back 79\s%", text.replace("\xa0", " "))  # R 0.6683 over 0.03, 0.8436 over 0.8
    for word in ("light", "medium", "heavy", "least ink", "Cyan", "Magenta", "Yellow", "Black"):
        assert word in text


def test_measured_tones_lie_between_those_of_single_channels() -> None:
    """Yule and Nielsen's formula on densities (tone.py, tested against published values) in X, Y and Z each."""
    fit = judged(*FOUR).fit
    white = fit.used.xyz[fit.used.amounts.max(axis=1) == 0][0]
    for column in range(4):
        sent, covered = measured_tones(fit, column)
        others = np.delete(fit.used.amounts, column, axis=1).sum(axis=1) == 0
        rows = [int(np.flatnonzero(others & (fit.used.amounts[:, column] == step))[0]) for step in sent]
        solid = density(fit.used.xyz[others & (fit.used.amounts[:, column] == 1)][0] / white)
        every = area(density(fit.used.xyz[rows] / white), solid=solid, n=fit.model.yule_nielsen)
        assert sent == pytest.approx([0.1, 0.25, 0.4, 0.55, 0.7, 0.85])
        assert np.all(covered >= every.min(axis=1) - 1e-9)
        assert np.all(covered <= every.max(axis=1) + 1e-9)


def test_tone_curves_go_through_what_was_measured() -> None:
    """Within 3 % of the film: the readings' scatter is smoothed. And dots of this printer spread, as it was invented."""
    fit = judged(*FOUR).fit
    for column, tone in enumerate(tones(fit)):
        sent, covered = measured_tones(fit, column)
        amounts = np.zeros((len(sent), 4))
        amounts[:, column] = sent
        assert fit.model.halftones.tones(amounts)[:, column] == pytest.approx(covered, abs=0.03)
        assert 0.5 < tone.at_half < 0.85
        assert tone.steps == 6


def test_the_histogram_is_about_what_accuracy_says() -> None:
    """Two ways of leaving out: one patch at a time from the surface, and an eighth of all from the whole model."""
    one = judged(*FOUR)
    missed = foretelling_misses(one.fit)
    assert len(missed) == one.accuracy.patches
    assert missed.mean() == pytest.approx(one.accuracy.mean, rel=0.35)


def test_ink_use_keeps_the_limit_and_black_spares_ink() -> None:
    """Least ink takes the least of all; light, medium and heavy take less in this order; none passes 220 % by more than 0.5 %."""
    one = judged(*FOUR)
    axes = gray_axes(one.model, ink_limit=2.2)
    means = [axis.mean for axis in axes]
    assert means == sorted(means, reverse=True)
    assert means[-1] < 0.8 * means[0]
    assert max(axis.heaviest for axis in axes) <= 220.5
    for colour in everyday(one.model, ink_limit=2.2):
        assert len(colour.totals) == len(ORDER)
        assert colour.totals[-1] <= min(colour.totals[:-1]) + 0.5
        assert 0 < max(colour.totals) <= 220.5


def _with(mean: float, most: float, scatter: float = 0.3) -> Judged:
    one = judged(*FOUR)
    accuracy: Accuracy = replace(one.accuracy, mean=mean, percentile95=most, scatter=scatter)
    return replace(one, accuracy=accuracy, fit=replace(one.fit, strays=()))


@pytest.mark.parametrize(
    ("mean", "most", "level"),
    [(0.5, 1.2, Level.GOOD), (0.5, 3.0, Level.FAIR), (1.5, 4.0, Level.FAIR), (1.5, 6.0, Level.POOR), (3.0, 4.0, Level.POOR)],
)
def test_what_is_trusted(mean: float, most: float, level: Level) -> None:
    """By mean and by the 95th percentile, whichever is worse (common practice, no source)."""
    assert verdict(_with(mean, most)).level is level


def test_what_to_do_names_patches_and_inks() -> None:
    """A stray is named; a thin sector is named with the inks; scatter asks for measuring twice; else there is nothing to do."""
    calm = _with(0.5, 1.2)
    assert verdict(calm).to_do == ()
    stray = replace(calm, fit=replace(calm.fit, strays=(Stray("Q17", 8.25),)))
    assert "Q17" in verdict(stray).to_do[0]
    assert "8.2" in verdict(stray).to_do[0]
    assert "twice" in verdict(_with(0.9, 2.0, scatter=0.8)).to_do[0]
    trust = replace(calm.accuracy.trust[0], mean=2.0, worst_inks={"C": 0.5, "K": 0.25})
    (step,) = verdict(replace(calm, accuracy=replace(calm.accuracy, trust=(trust,)))).to_do
    assert "C M Y K" in step
    assert "K\xa025\xa0%" in step


def test_charts_for_these_tests_are_small() -> None:
    """So that they are fitted in seconds."""
    assert len(chart(FOUR).names) < 110
