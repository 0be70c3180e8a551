"""Telling the service manager, and a container's health check, that the loop goes on.

The protocol is that of sd_notify(3): a datagram of `NAME=value` lines to the socket that $NOTIFY_SOCKET names; one whose name
begins with @ is abstract (unix(7)). $WATCHDOG_USEC says how soon a WATCHDOG=1 must follow another (sd_watchdog_enabled(3), which
advises half of it). Only the loop feeds it, and only when a step has ended: a loop that hangs is started anew.
"""

import json
import os
import socket
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Self

HEALTHY_S: Final = 600.0
"""A daemon that has not moved on for longer hangs: as long as the service unit's watchdog waits."""

_HEARTBEAT_S: Final = 5.0
_USEC: Final = 1e6


@dataclass(frozen=True)
class Manager:
    """Where to tell what. `address` is None where no service manager asked; `watchdog_s` None where it does not watch."""

    address: str | None = None
    watchdog_s: float | None = None

    @classmethod
    def from_environment(cls, environment: Mapping[str, str], *, pid: int) -> Self:
        """What the variables of the service manager say to the process `pid`; a child that inherited them is not asked."""
        address = environment.get("NOTIFY_SOCKET") or None
        usec, asked = environment.get("WATCHDOG_USEC", ""), environment.get("WATCHDOG_PID", str(pid))
        watched = address is not None and usec.isdigit() and int(usec) > 0 and asked == str(pid)
        return cls(address, int(usec) / _USEC if watched else None)

    def tell(self, *lines: str) -> None:
        """Send lines. A manager that does not hear is no reason to stop work."""
        if self.address is None or not hasattr(socket, "AF_UNIX"):
            return
        address = f"\0{self.address[1:]}" if self.address.startswith("@") else self.address
        with suppress(OSError), socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as sender:
            sender.setblocking(False)
            sender.sendto("\n".join(lines).encode(), os.fsencode(address))


class Pulse:
    """Says that the loop runs, goes on, and ends. `now` is of the monotonic clock, in seconds."""

    def __init__(self, manager: Manager, heartbeat: Path, *, boot: str) -> None:
        self._manager = manager
        self._heartbeat = heartbeat
        self._boot = boot
        self._fed: float | None = None
        self._beaten: float | None = None
        self._status = ""

    @property
    def longest_wait(self) -> float:
        """Seconds that the loop may wait at most, so that it is never taken as hanging."""
        return HEALTHY_S / 2 if self._manager.watchdog_s is None else min(HEALTHY_S, self._manager.watchdog_s) / 2

    def ready(self, *, now: float) -> None:
        """The loop begins."""
        self._manager.tell("READY=1", "STATUS=Working.")
        self.moved(now=now)

    def moved(self, *, now: float) -> None:
        """Listing and dispatch have moved on. Told at most every quarter of the time that the manager waits."""
        watchdog_s = self._manager.watchdog_s
        if watchdog_s is not None and (self._fed is None or now - self._fed >= watchdog_s / 4):
            self._manager.tell("WATCHDOG=1")
            self._fed = now
        if self._beaten is None or now - self._beaten >= _HEARTBEAT_S:
            _write(self._heartbeat, {"boot": self._boot, "monotonic": now})
            self._beaten = now

    def says(self, status: str) -> None:
        """A plain sentence for `systemctl status`; told when it has changed."""
        if status != self._status:
            self._manager.tell(f"STATUS={' '.join(status.split())}")
            self._status = status

    def stopping(self) -> None:
        """No more work is begun."""
        self._manager.tell("STOPPING=1", "STATUS=Finishing what is under way.")
        self._heartbeat.unlink(missing_ok=True)


def heartbeat_age(heartbeat: Path, *, boot: str, now: float) -> float | None:
    """Seconds since a daemon of this start of the machine last moved on; None where there is none. Wall time plays no part."""
    try:
        beat = json.loads(heartbeat.read_bytes())
        age = now - float(beat["monotonic"])
        return age if beat["boot"] == boot and age >= 0 else None
    except (OSError, ValueError, KeyError, TypeError):
        return None


def _write(path: Path, beat: Mapping[str, object]) -> None:
    """Whole or not at all, and not synced: it means nothing after a power cut. A full disk is no reason to stop."""
    part = path.with_name(f"{path.name}.part")
    with suppress(OSError):
        part.write_text(json.dumps(beat), "utf-8")
        part.replace(path)
