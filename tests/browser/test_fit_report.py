"""The ink model's report in a real browser (Debian's chromium): on a telephone, on a desk, light and dark.

It is the report of a synthetic printer of eight inks, with everything in it that a report may have, and names that no line takes.
"""

import io
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from browser.conftest import DESK, LONG, TELEPHONE, WIDTHS, Browser, measured
from colour.report.judged import judged
from colour.report.wedge import white_wedge
from filmhand.colour.fitted.fit import Stray
from filmhand.colour.report.page import report_page

pytestmark = [pytest.mark.outside, pytest.mark.slow]


# Runs in a page of ours around the report, which itself forbids scripts.
MEASURE = """
    const parts = [...page.body.querySelectorAll("*")], texts = [...page.querySelectorAll("svg text")];
    const isOutside = (part) => box(part)[2] > root.clientWidth + 0.5 || box(part)[0] < -0.5;
    const overlap = (a, b) => Math.min(a[2], b[2]) - Math.max(a[0], b[0]) > 1 && Math.min(a[3], b[3]) - Math.max(a[1], b[1]) > 4;
    const ticks = [...page.querySelectorAll("svg")].flatMap((svg) => {
      const boxes = [...svg.querySelectorAll(".tick")].map(box);
      return boxes.flatMap((a, i) => boxes.slice(i + 1).filter((b) => overlap(a, b)));
    });
    seen[frame.id] = {
      inner: frame.contentWindow.innerWidth, scroll: root.scrollWidth,
      outside: parts.filter(isOutside).map((part) => part.outerHTML.slice(0, 200)),
      overlapping: ticks.length, figures: [...page.querySelectorAll("svg")].map(box),
      smallest: Math.min(...texts.map((text) => box(text)).map((b) => Math.min(b[2] - b[0], b[3] - b[1])).filter((s) => s > 0)),
      smallestFont: Math.min(...parts.map((part) => parseFloat(getComputedStyle(part).fontSize))),
      scale: [...page.querySelectorAll("svg")].map((svg) => svg.getBoundingClientRect().width / svg.viewBox.baseVal.width),
      scripts: page.scripts.length,
    };
"""


@pytest.fixture(scope="module")
def page() -> str:
    """A report with long names, strays and white."""
    one = judged(*"CMYKRGBO")
    worst = (replace(one.accuracy.worst[0], name=LONG), *one.accuracy.worst[1:])
    return report_page(
        replace(
            one,
            name=LONG,
            printer=LONG,
            white=white_wedge(),
            accuracy=replace(one.accuracy, scatter=1.0, worst=worst),
            fit=replace(one.fit, strays=(Stray(worst[0].name, 12.5),)),
            chart=replace(one.chart, files=(LONG + ".txt",)),
        )
    )


@pytest.fixture(scope="module")
def seen(browser: Browser, page: str, tmp_path_factory: pytest.TempPathFactory) -> dict[str, dict[str, Any]]:
    """What the browser measured, by width."""
    pages = {str(width): (page, width) for width in WIDTHS}
    return measured(browser, pages, measure=MEASURE, folder=tmp_path_factory.mktemp("measured"))


@pytest.mark.parametrize("width", WIDTHS)
def test_nothing_is_wider_than_the_window(seen: dict[str, dict[str, Any]], width: int) -> None:
    """No scrolling sideways, nothing past the edge, words of figures among it; no script came in."""
    found = seen[str(width)]
    assert (found["inner"], found["scroll"]) == (width, width)
    assert found["outside"] == []
    assert found["scripts"] == 0


@pytest.mark.parametrize("width", WIDTHS)
def test_figures_can_be_read(seen: dict[str, dict[str, Any]], width: int) -> None:
    """No letter under 12 px, in figures after scaling (common practice, no source); numbers along axes do not overlap."""
    found = seen[str(width)]
    assert found["smallestFont"] >= 12
    assert 12 * min(found["scale"]) >= 11.9
    assert max(found["scale"]) < 1.6
    assert found["overlapping"] == 0


def test_figures_stand_beside_one_another_where_there_is_room(seen: dict[str, dict[str, Any]]) -> None:
    """Tone curves: two beside one another on the telephone, four or more on the desk."""
    for width, least in ((TELEPHONE, 2), (DESK, 4)):
        tops = [round(box[1]) for box in seen[str(width)]["figures"][:8]]
        assert tops.count(tops[0]) >= least


@pytest.mark.parametrize(("theme", "is_dark"), [("1", False), ("0", True)])
def test_it_follows_the_theme(browser: Browser, page: str, tmp_path: Path, theme: str, is_dark: bool) -> None:
    """Looked at in the pixels: paper light or dark as the reader's machine is, words the other way round."""
    (tmp_path / "report.html").write_text(page, "utf-8")
    shot = tmp_path / "shot.png"
    arguments = (f"--blink-settings=preferredColorScheme={theme}", f"--window-size={DESK},1200", f"--screenshot={shot}")
    browser(tmp_path / "home", *arguments, (tmp_path / "report.html").as_uri())
    pixels = np.asarray(Image.open(io.BytesIO(shot.read_bytes())).convert("L")).astype(float)
    paper = np.median(pixels)
    assert bool(paper < 64) is is_dark
    assert (np.abs(pixels - paper) > 150).sum() > 3000
