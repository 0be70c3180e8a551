"""A file that kills filmhand itself, again and again: row 21 of docs/reliability.md."""

import subprocess
import sys
import time
from pathlib import Path

import pytest

from small_shop import filmhand, new_shop, picture


def _killed_while_preparing(shop: Path, attempt: int) -> None:
    """Start the daemon, and kill it once it has begun an attempt. Tables are made first, which takes far longer than the kill."""
    log, words, end = shop / ".filmhand" / "logs" / "filmhand.jsonl", f'"attempt": {attempt}', time.monotonic() + 120
    with subprocess.Popen([sys.executable, "-m", "filmhand", "run", str(shop)], stderr=subprocess.DEVNULL) as daemon:
        while not (log.exists() and any(words in line and '"preparing"' in line for line in log.open(encoding="utf-8"))):
            assert time.monotonic() < end, f"attempt {attempt} has not begun"
            assert daemon.poll() is None
            time.sleep(0.02)
        daemon.kill()


@pytest.mark.slow
def test_set_aside_after_three_attempts_that_killed_us(tmp_path: Path) -> None:
    """Each attempt was counted before it began; the fourth start does not try again, and holds it for a person, with a note."""
    shop = new_shop(tmp_path / "shop")
    (shop / "in" / "small" / "A1_40mm_x1.png").write_bytes(picture(1))
    for attempt in (1, 2, 3):
        _killed_while_preparing(shop, attempt)
    said = filmhand("batch", shop)
    assert "held 1" in said
    assert (shop / "held" / "small" / "A1_40mm_x1.png" / "note.txt").is_file()
    assert '"attempt": 4' not in (shop / ".filmhand" / "logs" / "filmhand.jsonl").read_text("utf-8")
