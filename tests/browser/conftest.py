"""The browser: Debian's chromium."""

import html
import json
import re
import shutil
import subprocess
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import pytest

Browser = Callable[..., str]

TELEPHONE, DESK = 390, 1280
WIDTHS = (TELEPHONE, DESK)
LONG = "Donaudampfschifffahrtsgesellschaftskapitänsmützenfarbe" * 2
"""A word that no line takes."""

_AROUND = """
window.onload = () => {
  const seen = {};
  for (const frame of document.querySelectorAll("iframe")) {
    const page = frame.contentDocument, root = page.documentElement;
    const box = (part) => { const b = part.getBoundingClientRect(); return [b.left, b.top, b.right, b.bottom]; };
%s
  }
  document.body.textContent = JSON.stringify(seen);
};
"""


@pytest.fixture(scope="session")
def browser() -> Browser:
    """Runs it with further arguments; what it writes comes back. Its settings stay in the folder `home`."""
    program = shutil.which("chromium")
    if program is None:
        pytest.skip("chromium (Debian package chromium) is not installed")

    def run(home: Path, *arguments: str) -> str:
        command = [program, "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--force-device-scale-factor=1"]
        command += ["--disable-dev-shm-usage", f"--user-data-dir={home}", *arguments]
        return subprocess.run(command, capture_output=True, text=True, timeout=120, check=True).stdout

    return run


def measured(browser: Browser, pages: Mapping[str, tuple[str, int]], *, measure: str, folder: Path) -> dict[str, dict[str, Any]]:
    """What a script saw of pages, each in a frame of its own: `pages` by the frame's id, with its width in pixels.

    `measure` is run for each frame: of the `frame`, its `page`, that one's `root`, and the `box` of any part it fills
    `seen[frame.id]`.
    """
    frames = "".join(
        f'<iframe id="{name}" width="{width}" height="900" style="border: 0" srcdoc="{html.escape(page)}"></iframe>'
        for name, (page, width) in pages.items()
    )
    around = folder / "around.html"
    around.write_text(f'<!doctype html><meta charset="utf-8"><script>{_AROUND % measure}</script><body>{frames}</body>', "utf-8")
    answer = browser(folder / "home", "--dump-dom", around.as_uri())
    found = re.search(r"<body>(\{.*\})</body>", answer, re.DOTALL)
    assert found, answer[-2000:]
    return dict(json.loads(html.unescape(found[1])))
