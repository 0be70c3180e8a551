"""The night's report in a real browser (Debian's chromium): nothing sticks out on a telephone or a desk, in light and in dark.

It is a full night: names that no line takes, a thousand files, every section that there is.
"""

import re
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from browser.conftest import LONG, WIDTHS, Browser, measured
from filmhand.estimate.hand import Hand
from filmhand.intake.ticket import Ticket
from filmhand.journal.night_events import FailedAttempt, Told
from filmhand.journal.sheets import Balance
from filmhand.journal.states import JobStage
from filmhand.notices import report
from filmhand.notices.report import MOST_LINES, JobLine, Night, SheetLine
from filmhand.notices.waits import WaitLine
from filmhand.shop import Shop
from notices.nights import FEW_PIXELS, house_of
from some_records import a_job

pytestmark = pytest.mark.outside

SINCE = datetime(2031, 5, 4, 6, 30, tzinfo=UTC)
ESTIMATE = {"ink_ml": {"C": 1.5, "M": 2.5, "Y": 2.25, "K": 0.5, "W": 20.0}, "film_m2": 0.9, "powder_g": 40.0, "minutes": 6.0}
SOFT = Hand(0.02, 0.5, 26.0, 51.0, {"C": 1.0, "W": 4.0}, {"C": 3.0, "W": 7.0})

MEASURE = """
    const parts = [...page.body.querySelectorAll("*")], named = (part) => part.outerHTML.slice(0, 200);
    const scrolls = (part) => part.closest("details") !== null;
    const light = (colour) => {
      const linear = (v) => v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
      const [r, g, b] = colour.match(/[0-9.]+/g).slice(0, 3).map((v) => linear(v / 255));
      return 0.2126 * r + 0.7152 * g + 0.0722 * b;
    };
    const ground = light(frame.contentWindow.getComputedStyle(page.body).backgroundColor);
    const contrast = (part) => {
      const ink = light(frame.contentWindow.getComputedStyle(part).color);
      return (Math.max(ink, ground) + 0.05) / (Math.min(ink, ground) + 0.05);
    };
    seen[frame.id] = {
      scroll: root.scrollWidth, client: root.clientWidth, ground,
      outside: parts.filter((part) => !scrolls(part) && (box(part)[2] > root.clientWidth + 0.5 || box(part)[0] < 0)).map(named),
      faint: parts.filter((part) => part.textContent.trim() && contrast(part) < 4.5).map(named),
      headings: [...page.querySelectorAll("h2")].map((part) => part.textContent),
      files: page.querySelectorAll("ul:last-of-type > li").length,
    };
"""


def _night() -> Night:
    orders = tuple(
        {"order": f"R{n}", "files": [], "copies": 2, "film_m2": 0.4, "ink_ml": {"C": 1.0}, "powder_g": 3.0, "cost": {"total": n}}
        for n in range(5)
    )
    orders += ({**orders[0], "order": LONG},)
    estimate: dict[str, Any] = {**ESTIMATE, "cost": {"total": 7.5}}
    sheet = SheetLine(f"{LONG}-0001", f"out/{LONG}", 12, 1500.0, estimate, SOFT, orders=orders)
    job = a_job(at=SINCE, name=f"{LONG}.png", stage=JobStage.WAITING, ticket=Ticket(copies=1, order="R1"))
    lines = [JobLine(job, "printed", "done/x"), JobLine(replace(job, findings=(FEW_PIXELS,)), "rejected", f"rejects/{LONG}")]
    lines += [JobLine(job, "waits", "for its sheet")] * 1000
    waits = (WaitLine(LONG, LONG, SINCE, f"filmhand release SHOP {LONG}"), WaitLine("dark: 3 copies", "closes at 22:00", SINCE))
    troubles = (Told("a", f"Sheet {LONG} is held", LONG, SINCE), Told("b", "The disk is nearly full", "x", SINCE, SINCE))
    until = SINCE + timedelta(days=1)
    failed = (FailedAttempt(SINCE, LONG, f"it took too long: {LONG}"),)
    return Night(SINCE, tuple(lines), (sheet,), Balance(9, 4, 1, 2, 1, 1), until, (job,), failed, troubles, waits)


def _page(folder: Path) -> str:
    return report.write(Shop(folder), house_of(name="our shop"), _night(), at=SINCE + timedelta(days=1)).read_text("utf-8")


def _dark(page: str) -> str:
    """The page as one who prefers dark sees it: the frame of a test cannot choose."""
    return re.sub(r"prefers-color-scheme: dark", "min-width: 1px", page)


@pytest.mark.parametrize(("theme", "is_dark"), [(lambda page: page, False), (_dark, True)], ids=["light", "dark"])
def test_on_a_telephone_and_a_desk(browser: Browser, tmp_path: Path, theme: Callable[[str], str], is_dark: bool) -> None:
    """No part sticks out, every text has the contrast of 4.5 that WCAG 2.2 asks for (1.4.3), and lists end with how much more."""
    page = theme(_page(tmp_path))
    seen = measured(browser, {f"w{width}": (page, width) for width in WIDTHS}, measure=MEASURE, folder=tmp_path)
    for width in WIDTHS:
        found = seen[f"w{width}"]
        assert found["scroll"] == found["client"]
        assert found["outside"] == []
        assert found["faint"] == []
        assert (found["ground"] < 0.1) == is_dark
        assert found["files"] == MOST_LINES + 1
        assert found["headings"] == [
            *(
                "In this time",
                "All copies, and where they are now",
                "What stopped the line",
                "What waits, and why",
                "What failed",
                "Film, ink and cost",
            ),
            *("Sheets", "How soft", "Files"),
        ]
