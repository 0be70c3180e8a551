"""The daemon: sees what is dropped, closes by its rule, leaves cleanly when told to, and is the only one."""

import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from small_shop import filmhand, picture


@pytest.fixture
def daemon(shop: Path) -> subprocess.Popen[bytes]:
    """A running daemon of the small shop; ended, if it still runs, after the test."""
    with subprocess.Popen([sys.executable, "-m", "filmhand", "run", str(shop)], stderr=subprocess.DEVNULL) as process:
        yield process
        process.kill()


def _until(path: Path, pattern: str, seconds: float = 60) -> list[Path]:
    """What appears under a folder; the daemon is another process, so there is nothing to wait on but its result."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        found = list(path.glob(pattern))
        if found:
            return found
        time.sleep(0.05)
    raise AssertionError(f"no {pattern} in {path} after {seconds} s")


def test_dropped_while_running_is_delivered_and_sigterm_ends_it(shop: Path, daemon: subprocess.Popen[bytes]) -> None:
    """The rule closes a sheet one second after its oldest copy is ready; SIGTERM ends with code 0 and nothing half done."""
    _until(shop, ".filmhand/lock")
    (shop / "in" / "small" / "A1_40mm_x2.png").write_bytes(picture(1))
    _until(shop, "out/small/*/ticket.json")
    assert "Another filmhand has this shop" in filmhand("batch", shop, code=4)
    _until(shop, "done/*/*.png")
    assert "delivered 2" in filmhand("status", shop)
    daemon.send_signal(signal.SIGTERM)
    assert daemon.wait(timeout=30) == 0
    assert list((shop / "out" / ".filmhand-staging").iterdir()) == []


def test_a_broken_rule_file_leaves_the_last_good_one_in_force(shop: Path, daemon: subprocess.Popen[bytes]) -> None:
    """Saved while running: said in the log, and work goes on by the old one."""
    _until(shop, ".filmhand/lock")
    (shop / "rules" / "small.toml").write_text("title = ", "utf-8")
    (shop / "in" / "small" / "A1_40mm_x1.png").write_bytes(picture(1))
    _until(shop, "out/small/*/ticket.json")
    assert "the last good ones stay in force" in (shop / ".filmhand" / "logs" / "filmhand.jsonl").read_text("utf-8")
