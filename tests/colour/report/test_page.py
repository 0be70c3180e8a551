"""The page of a synthetic printer: whole, harmless, and saying the model's figures."""

import re
from dataclasses import replace
from html.parser import HTMLParser

import numpy as np
import pytest

from colour.published_sets import published
from colour.report.judged import HOSTILE, chart, judged
from colour.report.wedge import white_wedge
from filmhand.colour.ciede2000 import difference
from filmhand.colour.fitted.accuracy import Accuracy
from filmhand.colour.fitted.fit import Stray, fit
from filmhand.colour.report.facts import Judged
from filmhand.colour.report.ink_use import ORDER, everyday, gray_axes
from filmhand.colour.report.page import report_page
from filmhand.colour.report.tones import measured_tones, modelled_tones, tones
from filmhand.colour.report.verdict import Level, verdict

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
    reader.feed(report_page(replace(judged(*FOUR), white=white_wedge())))
    return reader


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


@pytest.mark.outside
def test_published_tone_value_increase() -> None:
    """FOGRA39L at 50 %: 11.4 for cyan in X, 13.7 for magenta in Y, 14.4 for yellow in Z, 17.2 for black (computed from its
    ramps; ISO 12647-2:2004 curves A and B say 14.3 and 17 there, from memory)."""
    data = published("FOGRA39L")
    found = [100 * tone.at_half - 50 for tone in tones(fit(data.readings(data.small)))]
    assert found == pytest.approx([11.4, 13.7, 14.4, 17.2], abs=0.5)


def test_tone_curves_go_through_what_was_measured() -> None:
    """Within 3 %: the readings' scatter is smoothed. And dots of this printer spread, as it was invented."""
    one = judged(*FOUR).fit
    for column, tone in enumerate(tones(one)):
        sent, printed = measured_tones(one, column)
        assert modelled_tones(one, column, sent) == pytest.approx(printed, abs=0.03)
        assert 0.5 < tone.at_half < 0.9
        assert tone.steps == 6


def test_the_histogram_shows_all_patches_that_were_judged() -> None:
    """As many as the bars are high, and the worst of them is told with both its colours."""
    one = judged(*FOUR).accuracy
    counts, edges = np.histogram(one.misses, 10)
    assert counts.sum() == len(one.misses)
    assert edges[-1] == one.largest == one.worst[0].delta_e
    assert difference(np.array(one.worst[0].measured), np.array(one.worst[0].foretold)) == pytest.approx(one.largest, rel=0.2)


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
