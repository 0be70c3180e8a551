"""Notes in a real browser (Debian's chromium): what a customer sees on a telephone and on a desk, in every language of ours.

The note that is looked at says every sentence that there is, with a name that no line takes, so that nothing wider can come.
"""

import io
from datetime import UTC, datetime
from pathlib import Path
from string import Formatter
from typing import Any

import numpy as np
import pytest
from PIL import Image

from browser.conftest import DESK, TELEPHONE, WIDTHS, Browser, measured
from filmhand.artwork.model import PrintedSize
from filmhand.delivery.note import Note, page_of
from filmhand.intake.ticket import Ticket
from filmhand.language import load_language
from filmhand.preflight.finding import Box, Finding, Severity
from filmhand.sentences import gathered
from filmhand.words import Words

pytestmark = pytest.mark.outside

CODES = ("en", "de", "es")
AFTER, BEFORE = (18, 52, 86), (254, 220, 186)

# Runs in a page of ours around the notes, for a note forbids all scripts: what the browser made of each.
MEASURE = """
    const parts = [...page.body.querySelectorAll("*")], named = (part) => part.outerHTML.slice(0, 200);
    const isOutside = (part) => box(part)[2] > root.clientWidth + 0.5 || box(part)[0] < 0;
    const isCut = (part) => part.scrollWidth > part.clientWidth + 1 && part.clientWidth > 0;
    seen[frame.id] = {
      lang: root.lang, inner: frame.contentWindow.innerWidth, scroll: root.scrollWidth,
      outside: parts.filter(isOutside).map(named), cut: parts.filter(isCut).map(named),
      pictures: [...page.images].map((image) => ({drawn: image.complete && image.naturalWidth, box: box(image)})),
      smallest: Math.min(...parts.map((part) => parseFloat(getComputedStyle(part).fontSize))),
      scripts: page.scripts.length,
    };
"""


def _picture(colour: tuple[int, int, int], size: tuple[int, int] = (1200, 700)) -> bytes:
    file = io.BytesIO()
    Image.new("RGB", size, colour).save(file, "PNG")
    return file.getvalue()


def _filled(sentence: str) -> Words:
    """A sentence with something long in each of its places."""
    places = [(name, spec) for _, name, spec, _ in Formatter().parse(sentence) if name]
    return Words(sentence, {name: 1234567 if spec else "Donaudampfschifffahrtsgesellschaft" for name, spec in places})


def _page(code: str) -> str:
    words = [_filled(sentence) for sentence in gathered()]
    severities = (Severity.REJECT, Severity.HOLD, Severity.WARN, Severity.NOTE)
    findings = tuple(
        Finding("check", severities[place % 4], said, words[place - 1], 0.1, 0.2, "mm", (Box(0.1, 0.1, 0.2, 0.2),))
        for place, said in enumerate(words)
    )
    note = Note(
        job="0042-a1b2",
        file="x" * 200 + " Straßenbahnschienenritzenreiniger.png",
        shop="/srv/" + "a_shop_with_a_long_name" * 5,
        folder="dark-garment",
        rule_title="Dark cotton, soft hand",
        verdict=Severity.HOLD,
        ticket=Ticket.model_validate(
            {"copies": 12, "order": "A" * 150, "garment": "#1b1b1d", "customer": "anna@" + "example." * 20}
        ),
        size=PrintedSize(280.0, 211.0),
        findings=findings,
        sha256="0123456789abcdef" * 4,
        when=datetime(2025, 3, 4, 2, 7, tzinfo=UTC),
        language=load_language(code, None),
    )
    return page_of(note, picture=_picture(AFTER), before=_picture(BEFORE, (700, 1100)))


@pytest.fixture(scope="module")
def pages() -> dict[str, str]:
    """A note by language."""
    return {code: _page(code) for code in CODES}


@pytest.fixture(scope="module")
def seen(browser: Browser, pages: dict[str, str], tmp_path_factory: pytest.TempPathFactory) -> dict[str, dict[str, Any]]:
    """What the browser measured, by language and width."""
    framed = {f"{code}-{width}": (page, width) for code, page in pages.items() for width in WIDTHS}
    return measured(browser, framed, measure=MEASURE, folder=tmp_path_factory.mktemp("measured"))


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("code", CODES)
def test_nothing_is_wider_than_the_window(seen: dict[str, dict[str, Any]], code: str, width: int) -> None:
    """No scrolling sideways, nothing past the edge, nothing cut off inside its part."""
    page = seen[f"{code}-{width}"]
    assert (page["lang"], page["inner"], page["scroll"]) == (code, width, width)
    assert page["outside"] == []
    assert page["cut"] == []


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("code", CODES)
def test_the_pictures_are_drawn_at_a_size_for_looking(seen: dict[str, dict[str, Any]], code: str, width: int) -> None:
    """Both of them, in their proportions; on the desk side by side, on the telephone that before first, almost as wide as it."""
    before, after = seen[f"{code}-{width}"]["pictures"]
    assert (before["drawn"], after["drawn"]) == (700, 1200)
    for picture, proportion in ((before, 700 / 1100), (after, 1200 / 700)):
        left, top, right, bottom = picture["box"]
        assert (right - left) / (bottom - top) == pytest.approx(proportion, rel=0.02)
    if width == DESK:
        assert before["box"][2] <= after["box"][0]
        assert before["box"][1] == after["box"][1]
        assert after["box"][2] - after["box"][0] > 450
    else:
        assert before["box"][3] <= after["box"][1]
        assert after["box"][2] - after["box"][0] > 0.9 * TELEPHONE


@pytest.mark.parametrize("code", CODES)
def test_text_is_large_enough_for_a_telephone(seen: dict[str, dict[str, Any]], code: str) -> None:
    """No letter under 12 px (common practice, no source). And no script came in."""
    assert seen[f"{code}-{TELEPHONE}"]["smallest"] >= 12
    assert seen[f"{code}-{TELEPHONE}"]["scripts"] == 0


@pytest.mark.parametrize(("theme", "is_dark"), [("1", False), ("0", True)])
def test_it_follows_the_theme_and_shows_the_pictures(
    browser: Browser, pages: dict[str, str], tmp_path: Path, theme: str, is_dark: bool
) -> None:
    """Looked at in the pixels: the paper is light or dark as the reader's machine is; both pictures are on the screen."""
    (tmp_path / "note.html").write_text(pages["de"], "utf-8")
    shot = tmp_path / "shot.png"
    arguments = (f"--blink-settings=preferredColorScheme={theme}", f"--window-size={DESK},1600", f"--screenshot={shot}")
    browser(tmp_path / "home", *arguments, (tmp_path / "note.html").as_uri())
    pixels = np.asarray(Image.open(shot).convert("RGB"))
    assert pixels.shape == (1600, DESK, 3)
    assert bool(pixels[-1, 3].mean() < 64) is is_dark
    for colour in (BEFORE, AFTER):
        assert np.all(pixels == colour, axis=2).sum() > 450 * 200
