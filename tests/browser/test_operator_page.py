"""The operator's sheet in a real browser (Debian's chromium): on a telephone and a desk, light and dark, and printed."""

from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pikepdf
import pytest
from PIL import Image

from browser.conftest import DESK, LONG, TELEPHONE, WIDTHS, Browser, measured
from delivery.operator_sheets import HOSTILE, PRESS, colour_of, night, placement, ticket, warning, write
from filmhand.delivery.operator.page import PAGE

pytestmark = pytest.mark.outside

# Runs in a page of ours around the sheet: what the browser made of it, and where it put each number.
MEASURE = """
    const parts = [...page.body.querySelectorAll("*")], named = (part) => part.outerHTML.slice(0, 200);
    const isOutside = (part) => !part.closest(".film") && (box(part)[2] > root.clientWidth + 0.5 || box(part)[0] < -0.5);
    const shown = parts.filter((part) => part.getBoundingClientRect().height > 0);
    seen[frame.id] = {
      inner: frame.contentWindow.innerWidth, scroll: root.scrollWidth, outside: parts.filter(isOutside).map(named),
      smallest: Math.min(...shown.map((part) => parseFloat(getComputedStyle(part).fontSize))),
      pictures: [...page.images].map((image) => image.complete && image.naturalWidth),
      films: [...page.querySelectorAll(".film")].map(box),
      numbers: [...page.querySelectorAll(".film g")].map((g) => [g.textContent, ...box(g.querySelector("circle"))]),
      letters: [...page.querySelectorAll(".film g")].map((g) => [g.lastChild, g.firstChild].flatMap(box)),
      ticks: [...page.querySelectorAll("input")].map((input) => [input.offsetWidth, input.offsetHeight]),
      scripts: page.scripts.length, tags: [...new Set(parts.map((part) => part.localName))],
      heading: page.querySelector("h1").textContent, files: [...page.querySelectorAll(".file")].map((part) => part.textContent),
    };
"""

TAGS = {
    *("header", "section", "article", "div", "p", "span", "bdi", "b", "i", "strong", "small", "h1", "h2", "h3"),
    *("dl", "dt", "dd", "ul", "li", "figure", "figcaption", "img", "svg", "g", "circle", "text", "label", "input"),
}


def _hostile() -> dict[str, Any]:
    """Names that broke pages of others, and one that no line takes, wherever a ticket has text."""
    names = (*HOSTILE, LONG)
    placed = [
        placement(str(n), 1, (10, 10 + 60 * n, 50, 50), file=name, order=name, garment_name=name, due=name, rush=True)
        for n, name in enumerate(names)
    ]
    said = ticket(placed, length=1100, sheet=LONG, printer=LONG, film={"width_mm": 600, "why": HOSTILE[0]})
    said["findings"] = [{**warning(str(n), name), "file": name} for n, name in enumerate(names)]
    return said


SHEETS = {"night": night(40, designs=6, side=100), "hostile": _hostile(), "many": night(300, designs=40, side=70)}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Each sheet in a folder of its own."""
    root = tmp_path_factory.mktemp("operator")
    for name, said in SHEETS.items():
        hostile = {"title": HOSTILE[0], "shop": HOSTILE[1]} if name == "hostile" else {}
        write(root / name, said, press=PRESS.model_copy(update={"peel": LONG}) if hostile else PRESS, **hostile)
    return root


@pytest.fixture(scope="module")
def seen(browser: Browser, folder: Path) -> dict[str, dict[str, Any]]:
    """What the browser measured, by sheet and width; the page around them lies beside the sheet's preview."""
    found = {}
    for name in SHEETS:
        pages = {f"{name}-{width}": ((folder / name / PAGE).read_text("utf-8"), width) for width in WIDTHS}
        found |= measured(browser, pages, measure=MEASURE, folder=folder / name)
    return found


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", SHEETS)
def test_nothing_is_wider_than_the_window(seen: dict[str, dict[str, Any]], name: str, width: int) -> None:
    """No scrolling sideways, nothing past the edge, no letter under 12 px (common practice, no source), the picture there."""
    found = seen[f"{name}-{width}"]
    assert (found["inner"], found["scroll"]) == (width, width)
    assert found["outside"] == []
    assert found["smallest"] >= 12
    assert all(found["pictures"])
    assert len(found["films"]) == len(found["pictures"]) >= 1


@pytest.mark.parametrize("width", WIDTHS)
def test_boxes_suit_a_thumb(seen: dict[str, dict[str, Any]], width: int) -> None:
    """One for every copy of a small lot, 44 px each way (WCAG 2.2, 2.5.5)."""
    ticks = seen[f"night-{width}"]["ticks"]
    assert len(ticks) == 40
    assert min(min(tick) for tick in ticks) >= 44


@pytest.mark.parametrize("width", WIDTHS)
def test_names_stay_names(seen: dict[str, dict[str, Any]], width: int) -> None:
    """No element comes out of a ticket's text, and no script; markup is read as it was written."""
    found = seen[f"hostile-{width}"]
    assert set(found["tags"]) <= TAGS
    assert found["scripts"] == 0
    assert found["heading"] == LONG
    assert {HOSTILE[0], HOSTILE[1], HOSTILE[3]} <= set(found["files"])
    assert not any("\u202e" in name for name in found["files"])


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("name", ["night", "many"])
def test_numbers_are_whole_in_their_discs(seen: dict[str, dict[str, Any]], name: str, width: int) -> None:
    """Each once, its letters no wider than the disc."""
    found = seen[f"{name}-{width}"]
    count = len(SHEETS[name]["placements"])
    assert sorted(int(number[0]) for number in found["numbers"]) == list(range(1, count + 1))
    for left, _, right, _, disc_left, _, disc_right, _ in found["letters"]:
        assert disc_left <= left
        assert right <= disc_right


def test_strips_are_side_by_side_where_there_is_room(seen: dict[str, dict[str, Any]]) -> None:
    """On the desk; on the telephone one below another, as wide as it."""
    desk, phone = (seen[f"many-{width}"]["films"] for width in (DESK, TELEPHONE))
    assert len(desk) > 1
    assert len({round(film[1]) for film in desk}) == 1
    assert all(above[3] < below[1] for above, below in pairwise(phone))
    assert min(right - left for left, _, right, _ in phone) > 0.9 * TELEPHONE


@pytest.mark.parametrize(("theme", "is_dark"), [("1", False), ("0", True)])
def test_numbers_lie_on_their_copies(
    browser: Browser, folder: Path, seen: dict[str, dict[str, Any]], tmp_path: Path, theme: str, is_dark: bool
) -> None:
    """Looked at in the pixels, light and dark: beside every disc is the colour of a copy of that number's design."""
    shot = tmp_path / "shot.png"
    arguments = (f"--blink-settings=preferredColorScheme={theme}", f"--window-size={DESK},2400", f"--screenshot={shot}")
    browser(tmp_path / "home", *arguments, (folder / "night" / PAGE).as_uri())
    pixels = np.asarray(Image.open(shot).convert("RGB")).astype(int)
    assert bool(pixels[3, -3].mean() < 64) is is_dark
    jobs = [item["job"] for item in SHEETS["night"]["placements"]]
    for text, left, top, _, bottom in seen[f"night-{DESK}"]["numbers"]:
        beside = pixels[round((top + bottom) / 2), round(left) - 5]
        job = jobs[int(text) - 1]  # designs lie and are numbered one after another
        wanted = [colour_of(place) for place, other in enumerate(jobs) if other == job]
        assert min(np.abs(beside - colour).max() for colour in wanted) <= 3, text


def test_it_prints_on_a4(browser: Browser, folder: Path, tmp_path: Path) -> None:
    """A usual sheet on two pages at most."""
    paper = tmp_path / "printed.pdf"
    browser(tmp_path / "home", "--no-pdf-header-footer", f"--print-to-pdf={paper}", (folder / "night" / PAGE).as_uri())
    with pikepdf.open(paper) as opened:
        assert [float(side) for side in opened.pages[0].mediabox] == pytest.approx([0, 0, 595, 842], abs=1)
        assert len(opened.pages) <= 2
