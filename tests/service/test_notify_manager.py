"""The service manager hears that the loop goes on, and only then. Protocol: sd_notify(3), sd_watchdog_enabled(3), unix(7)."""

import json
import os
import signal
import socket
import subprocess
import sys
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from threading import Event, Thread
from typing import Any

import pytest

from filmhand.service import claiming, look, loop, reload
from filmhand.service.notify_manager import HEALTHY_S, Manager, Pulse, heartbeat_age
from filmhand.shop import Shop
from small_shop import filmhand, new_shop, picture

WATCHDOG_S = 100.0


class Watched:
    """A clock that goes on by itself only when told to; every asking is a millisecond."""

    def __init__(self) -> None:
        self.seconds = 1000.0

    def now(self) -> datetime:
        return datetime(2031, 5, 4, 22, tzinfo=UTC) + timedelta(seconds=self.seconds)

    def monotonic(self) -> float:
        self.seconds += 0.001
        return self.seconds


@pytest.fixture(params=["path", "abstract"])
def manager(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[tuple[socket.socket, str]]:
    """A datagram socket as the service manager has it, and its name as $NOTIFY_SOCKET gives it."""
    if not sys.platform.startswith("linux"):
        pytest.skip("the service manager's sockets are Linux's")
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listening:
        name = str(tmp_path / "notify") if request.param == "path" else f"@filmhand-test-{os.getpid()}-{tmp_path.name}"
        listening.bind(f"\0{name[1:]}" if name.startswith("@") else name)
        listening.settimeout(60)
        yield listening, name


def _until(listening: socket.socket, line: str) -> list[str]:
    """Every line up to and with this one."""
    lines: list[str] = []
    while line not in lines:
        lines += listening.recv(4096).decode().splitlines()
    return lines


def _nothing_more(listening: socket.socket) -> list[str]:
    """All that was sent and not read yet, without waiting."""
    lines: list[str] = []
    listening.setblocking(False)
    try:
        while True:
            lines += listening.recv(4096).decode().splitlines()
    except BlockingIOError:
        return lines
    finally:
        listening.settimeout(60)


def test_a_daemon_is_ready_feeds_says_and_stops(manager: tuple[socket.socket, str], tmp_path: Path) -> None:
    """The whole program under a manager that watches: readiness, food, a sentence, the end; a health check agrees meanwhile."""
    listening, name = manager
    shop = new_shop(tmp_path / "shop")
    assert "No filmhand runs in this shop" in filmhand("status", "--healthy", shop, code=6)
    # Half of it is the longest that the loop may wait; a quarter of it passes between two meals at least.
    environment = os.environ | {"NOTIFY_SOCKET": name, "WATCHDOG_USEC": "800000"}
    environment.pop("WATCHDOG_PID", None)
    with subprocess.Popen(
        [sys.executable, "-m", "filmhand", "run", str(shop)], stderr=subprocess.DEVNULL, env=environment
    ) as process:
        assert _until(listening, "READY=1")[0] == "READY=1"
        _until(listening, "WATCHDOG=1")
        _until(listening, "WATCHDOG=1")
        assert "moved on" in filmhand("status", "--healthy", shop)
        process.send_signal(signal.SIGTERM)
        _until(listening, "STOPPING=1")
        assert process.wait(timeout=30) == 0
    assert "No filmhand runs in this shop" in filmhand("status", "--healthy", shop, code=6)


@pytest.mark.parametrize("stalled", ["listing", "dispatch"])
def test_a_loop_that_stalls_is_not_fed(
    manager: tuple[socket.socket, str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, stalled: str
) -> None:
    """Whether a folder's listing hangs or a claim: no food however long it takes; food again once it has moved on."""
    listening, name = manager
    root = new_shop(tmp_path / "shop")
    shop, clock, stop = Shop.at(root), Watched(), Event()
    hangs, goes_on, armed = Event(), Event(), Event()
    module, verb = (look, "look_at_hot_folders") if stalled == "listing" else (claiming, "claim")
    real: Any = getattr(module, verb)

    def hanging(*words: Any, **named: Any) -> Any:
        if armed.is_set():
            hangs.set()
            goes_on.wait(60)
        return real(*words, **named)

    monkeypatch.setattr(module, verb, hanging)
    thread = Thread(target=_serve, args=(shop, clock, stop, Pulse(Manager(name, WATCHDOG_S), shop.heartbeat, boot="b")))
    thread.start()
    try:
        _until(listening, "WATCHDOG=1")
        (root / "in" / "small" / "A1_40mm_x1.png").write_bytes(picture())
        armed.set()
        clock.seconds += 10  # the file has settled by this clock
        assert hangs.wait(60)
        _nothing_more(listening)
        clock.seconds += 10 * WATCHDOG_S
        assert _nothing_more(listening) == []
        age = heartbeat_age(shop.heartbeat, boot="b", now=clock.seconds)
        assert age is not None and age > HEALTHY_S
        armed.clear()
        goes_on.set()
        _until(listening, "WATCHDOG=1")
    finally:
        goes_on.set()
        stop.set()
        thread.join(60)
    assert not thread.is_alive()


def _serve(shop: Shop, clock: Watched, stop: Event, pulse: Pulse) -> None:
    settings, house = reload.Watch(shop), reload.load(shop)
    with loop.hand_for(shop, house, clock) as hand:
        loop.run(hand, settings=settings, ended=stop.is_set, pulse=pulse, clock=clock)


def test_food_is_told_at_most_every_quarter(manager: tuple[socket.socket, str], tmp_path: Path) -> None:
    """The manual advises half of WATCHDOG_USEC; many short steps do not flood it, and none comes too late."""
    listening, name = manager
    pulse = Pulse(Manager(name, WATCHDOG_S), tmp_path / "beat", boot="b")
    for tenth in range(1000):
        pulse.moved(now=tenth / 10)
    assert _nothing_more(listening) == ["WATCHDOG=1"] * 4
    assert pulse.longest_wait <= WATCHDOG_S / 2


def test_a_sentence_is_one_line_told_once(manager: tuple[socket.socket, str], tmp_path: Path) -> None:
    """A line break in it would be another assignment of the protocol."""
    listening, name = manager
    pulse = Pulse(Manager(name), tmp_path / "beat", boot="b")
    pulse.says("Working on a\nSTOPPING=1")
    pulse.says("Working on a\nSTOPPING=1")
    assert _nothing_more(listening) == ["STATUS=Working on a STOPPING=1"]


@pytest.mark.parametrize(
    ("environment", "watchdog_s"),
    [
        ({}, None),
        ({"NOTIFY_SOCKET": "/run/n"}, None),
        ({"NOTIFY_SOCKET": "/run/n", "WATCHDOG_USEC": "30000000"}, 30.0),
        ({"NOTIFY_SOCKET": "/run/n", "WATCHDOG_USEC": "30000000", "WATCHDOG_PID": "7"}, 30.0),
        ({"NOTIFY_SOCKET": "/run/n", "WATCHDOG_USEC": "30000000", "WATCHDOG_PID": "8"}, None),
        ({"NOTIFY_SOCKET": "/run/n", "WATCHDOG_USEC": "0"}, None),
        ({"NOTIFY_SOCKET": "/run/n", "WATCHDOG_USEC": "soon"}, None),
    ],
)
def test_who_is_watched(environment: dict[str, str], watchdog_s: float | None) -> None:
    """sd_watchdog_enabled(3): only the process that $WATCHDOG_PID names, where it is set; nonsense is no watchdog."""
    found = Manager.from_environment(environment, pid=7)
    assert (found.address, found.watchdog_s) == (environment.get("NOTIFY_SOCKET"), watchdog_s)


def test_a_manager_that_does_not_hear_stops_nothing(tmp_path: Path) -> None:
    """Its socket is gone, or the shop's disk takes no heartbeat: work goes on."""
    pulse = Pulse(Manager(str(tmp_path / "gone"), WATCHDOG_S), tmp_path / "no folder" / "beat", boot="b")
    pulse.ready(now=0)
    pulse.stopping()
    assert heartbeat_age(tmp_path / "no folder" / "beat", boot="b", now=1) is None


@pytest.mark.parametrize(
    "beat", [b"", b"[]", b'{"boot": "b"}', b'{"boot": "other", "monotonic": 1}', b'{"boot": "b", "monotonic": 99}']
)
def test_a_heartbeat_that_says_nothing(tmp_path: Path, beat: bytes) -> None:
    """Cut short, of another start of the machine, or from the future: no daemon is alive by it."""
    (tmp_path / "beat").write_bytes(beat)
    assert heartbeat_age(tmp_path / "beat", boot="b", now=50) is None
    (tmp_path / "beat").write_text(json.dumps({"boot": "b", "monotonic": 20}))
    assert heartbeat_age(tmp_path / "beat", boot="b", now=50) == 30
