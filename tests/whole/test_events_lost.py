"""The system's events fail or overflow: the listing finds everything, and the limit that was reached is named (row 5)."""

import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from small_shop import new_shop

_MANY = 20_000
"""More than the 16,384 events that Linux keeps for a reader by default (inotify(7), max_queued_events)."""


@pytest.fixture
def slow_shop(tmp_path: Path) -> Path:
    """A shop in which nothing is prepared: what is dropped is no picture."""
    return new_shop(tmp_path / "shop")


@pytest.fixture
def started() -> Iterator[Callable[..., subprocess.Popen[bytes]]]:
    """Starts a daemon, under whatever program; it is ended after the test."""
    daemons: list[subprocess.Popen[bytes]] = []

    def start(shop: Path, *prefix: str) -> subprocess.Popen[bytes]:
        words = [*prefix, sys.executable, "-m", "filmhand", "run", str(shop)]
        daemons.append(subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL))
        return daemons[-1]

    yield start
    for daemon in daemons:
        daemon.terminate()
        daemon.wait(60)


def _until_logged(shop: Path, words: str, seconds: float = 60) -> None:
    """The daemon is another process, so there is nothing to wait on but its log."""
    log, end = shop / ".filmhand" / "logs" / "filmhand.jsonl", time.monotonic() + seconds
    while not (log.exists() and words in log.read_text("utf-8")):
        assert time.monotonic() < end, f"{words!r} is not in the log after {seconds} s"
        time.sleep(0.05)


@pytest.mark.outside
@pytest.mark.skipif(shutil.which("strace") is None, reason="needs strace (Debian strace)")
@pytest.mark.parametrize(
    ("call", "error", "limit"),
    [
        ("inotify_add_watch", "ENOSPC", "fs.inotify.max_user_watches"),
        ("inotify_init,inotify_init1", "EMFILE", "fs.inotify.max_user_instances"),
    ],
)
def test_a_limit_of_events_is_named_and_polling_takes_over(
    slow_shop: Path, started: Callable[..., subprocess.Popen[bytes]], call: str, error: str, limit: str
) -> None:
    """strace lets the system say that the limit is reached; what is dropped is found all the same."""
    tracing = ("strace", "-D", "-qq", "-f", "-e", f"trace={call}", "-e", f"inject={call}:error={error}", "-o", "/dev/null")
    started(slow_shop, *tracing)
    _until_logged(slow_shop, limit)
    (slow_shop / "in" / "small" / "a.png").write_bytes(b"not a picture")
    _until_logged(slow_shop, '"event": "claimed"')


@pytest.mark.slow
def test_more_events_than_the_system_keeps(slow_shop: Path, started: Callable[..., subprocess.Popen[bytes]]) -> None:
    """The daemon is stopped while twenty thousand files come and go, and one comes last, whose event is lost: it is found."""
    daemon = started(slow_shop)
    _until_logged(slow_shop, '"event": "watching"')
    daemon.send_signal(signal.SIGSTOP)
    hot = slow_shop / "in" / "small"
    for number in range(_MANY):
        (hot / f"{number}.part").touch()
    (hot / "a.png").write_bytes(b"not a picture")
    daemon.send_signal(signal.SIGCONT)
    _until_logged(slow_shop, '"event": "claimed"')
