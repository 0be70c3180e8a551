"""A sheet's proof in a real browser (Debian's chromium): on a telephone and a desk, light and dark, with and without script."""

from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image

from browser.conftest import DESK, LONG, TELEPHONE, WIDTHS, Browser, measured
from filmhand.proof.delivered import DeliveredSheet
from filmhand.proof.write import PAGE, write_proof
from proof.sheets import INKS, MODEL, SAND, deliver, placed, printer, random_planes

pytestmark = pytest.mark.outside


# Runs in a page of ours around the proof: what the browser made of it, before and after its last button is pressed.
MEASURE = """
    const parts = [...page.body.querySelectorAll("*")];
    const isOutside = (part) => box(part)[2] > root.clientWidth + 0.5 || box(part)[0] < -0.5;
    const shown = () => [...page.querySelectorAll(".whole figure")].filter((f) => f.offsetHeight > 0).map((f) => f.id);
    const buttons = [...page.querySelectorAll("button")], first = shown();
    const tops = [...page.querySelectorAll(".dots")].map((pair) => [...pair.children].map((f) => Math.round(box(f)[1])));
    const outside = parts.filter(isOutside).map((part) => part.outerHTML.slice(0, 200));
    const pictures = [...page.images].map((image) => [image.naturalWidth, ...box(image)]);
    if (buttons.length && frame.id.startsWith("script")) buttons[buttons.length - 1].click();
    seen[frame.id] = {
      inner: frame.contentWindow.innerWidth, scroll: root.scrollWidth, outside, first, then: shown(), tops, pictures,
      buttons: buttons.filter((b) => b.offsetHeight > 0).map((b) => b.offsetHeight),
      smallest: Math.min(...parts.map((part) => parseFloat(getComputedStyle(part).fontSize))),
      pressed: buttons.filter((b) => b.getAttribute("aria-pressed") === "true").map((b) => b.dataset.view),
    };
"""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A proof of two designs on two garments, with names that no line takes."""
    root = tmp_path_factory.mktemp("proof")
    copies = [placed((100, 100, 500, 900), job="one"), placed((700, 200, 600, 800), job="two", garment=SAND)]
    copies[1] |= {"file": LONG + ".png", "order": LONG}
    sheet = deliver(root / "a-sheet-with-a-name-that-takes-its-room", random_planes((1200, 1417)), copies)
    out = root / "proof"
    out.mkdir()
    with DeliveredSheet(sheet, printer=printer()) as opened:
        write_proof(opened, out, model=MODEL)
    return out


@pytest.fixture(scope="module")
def seen(browser: Browser, folder: Path) -> dict[str, dict[str, Any]]:
    """What the browser measured, by width, with the page's script and without."""
    page = (folder / PAGE).read_text("utf-8")
    without = page[: page.index("<script>")] + page[page.index("</script>") + len("</script>") :]
    pages = {f"{kind}-{width}": (text, width) for kind, text in (("script", page), ("none", without)) for width in WIDTHS}
    return measured(browser, pages, measure=MEASURE, folder=folder)


@pytest.mark.parametrize("width", WIDTHS)
@pytest.mark.parametrize("kind", ["script", "none"])
def test_nothing_is_wider_than_the_window(seen: dict[str, dict[str, Any]], kind: str, width: int) -> None:
    """No scrolling sideways, nothing past the edge, no letter under 12 px (common practice, no source), every picture there."""
    found = seen[f"{kind}-{width}"]
    assert (found["inner"], found["scroll"]) == (width, width)
    assert found["outside"] == []
    assert found["smallest"] >= 12
    assert len(found["pictures"]) == 3 + len(INKS) + 2 * 2
    assert all(picture[0] > 0 for picture in found["pictures"])


@pytest.mark.parametrize("width", WIDTHS)
def test_a_switch_shows_one_view_at_a_time(seen: dict[str, dict[str, Any]], width: int) -> None:
    """The garment first; a press on the last button shows the white. Buttons suit a thumb (44 px, WCAG 2.2, 2.5.5)."""
    found = seen[f"script-{width}"]
    assert (found["first"], found["then"], found["pressed"]) == (["view-garment"], ["view-W"], ["W"])
    assert len(found["buttons"]) == 3 + len(INKS)
    assert min(found["buttons"]) >= 44


@pytest.mark.parametrize("width", WIDTHS)
def test_without_a_script_all_views_stand_below_one_another(seen: dict[str, dict[str, Any]], width: int) -> None:
    """And there is no button that does nothing."""
    found = seen[f"none-{width}"]
    assert len(found["first"]) == 3 + len(INKS)
    assert found["buttons"] == []


def test_dots_stand_side_by_side_where_there_is_room(seen: dict[str, dict[str, Any]]) -> None:
    """Exact and magnified: beside one another on the desk, below one another on the telephone."""
    assert all(len(set(pair)) == 1 for pair in seen[f"script-{DESK}"]["tops"])
    assert all(len(set(pair)) == 2 for pair in seen[f"script-{TELEPHONE}"]["tops"])


@pytest.mark.parametrize(("theme", "is_dark"), [("1", False), ("0", True)])
def test_it_follows_the_theme(browser: Browser, folder: Path, tmp_path: Path, theme: str, is_dark: bool) -> None:
    """Looked at in the pixels: paper light or dark as the reader's machine is, with the whole sheet's picture on it."""
    shot = tmp_path / "shot.png"
    arguments = (f"--blink-settings=preferredColorScheme={theme}", f"--window-size={DESK},1500", f"--screenshot={shot}")
    browser(tmp_path / "home", *arguments, (folder / PAGE).as_uri())
    pixels = np.asarray(Image.open(shot).convert("L")).astype(float)
    assert bool(pixels[3, -3] < 64) is is_dark
    assert (np.abs(pixels - pixels[3, -3]) > 60).sum() > 300 * 300
