"""Row 33 of docs/reliability.md: as long as filmhand has no page to serve, nobody on the network finds anything to talk to."""

import os
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from processes import children_of
from small_shop import picture

pytestmark = pytest.mark.skipif(not Path("/proc/net/tcp").exists(), reason="needs proc(5)")

LISTENING = "0A"
"""State TCP_LISTEN in proc_net_tcp(5)."""


def _sockets(pids: set[int]) -> Iterator[str]:
    """Inodes of the sockets that processes hold."""
    for pid in pids:
        try:
            for entry in Path(f"/proc/{pid}/fd").iterdir():
                target = str(entry.readlink())
                if target.startswith("socket:["):
                    yield target[8:-1]
        except OSError:  # ended, or closed, meanwhile
            continue


def _family(pid: int) -> set[int]:
    """A process and all that came of it."""
    return {pid}.union(*map(_family, children_of(pid)))


def open_to_the_network(pid: int) -> list[str]:
    """Lines of proc_net_tcp(5) and proc_net_udp(5), of both families, for sockets of a process family that take what comes."""
    ours = set(_sockets(_family(pid)))
    lines = []
    for kind in ("tcp", "tcp6", "udp", "udp6"):
        table = Path("/proc/net") / kind
        for line in table.read_text("ascii").splitlines()[1:] if table.exists() else ():
            fields = line.split()
            if fields[9] in ours and (kind.startswith("udp") or fields[3] == LISTENING):
                lines.append(f"{kind} {fields[1]}")
    return lines


def test_the_check_sees_a_listener() -> None:
    """One of our own is found."""
    with socket.create_server(("127.0.0.1", 0)) as server:
        port = f"{server.getsockname()[1]:04X}"
        assert any(line.endswith(port) for line in open_to_the_network(os.getpid()))


def test_the_daemon_and_its_children_listen_nowhere(shop: Path) -> None:
    """Looked at over and over, from its start until a sheet is out."""
    (shop / "in" / "small" / "A1_40mm_x2.png").write_bytes(picture(1))
    command = [sys.executable, "-m", "filmhand", "run", str(shop)]
    with subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) as daemon:
        ends, most = time.monotonic() + 60, 0
        while not list(shop.glob("out/small/*/ticket.json")):
            assert time.monotonic() < ends
            assert open_to_the_network(daemon.pid) == []
            most = max(most, len(_family(daemon.pid)))
        daemon.terminate()
    assert most > 1, "no child process was seen"
