"""Time as an argument: everything that decides is given `now`, and only this file asks the system."""

import time
from datetime import datetime
from pathlib import Path
from typing import Protocol


class Clock(Protocol):
    """What the loop asks for the time."""

    def now(self) -> datetime:
        """Local wall time with its zone, for people and times of day."""

    def monotonic(self) -> float:
        """Seconds that never jump, for ages."""


class SystemClock:
    """The machine's clock."""

    def now(self) -> datetime:
        """Local wall time with its zone."""
        return datetime.now().astimezone()

    def monotonic(self) -> float:
        """Seconds since some start."""
        return time.monotonic()


def boot_id() -> str:
    """What tells one run of the machine from the next: the kernel's random boot id; elsewhere the hour of the start."""
    path = Path("/proc/sys/kernel/random/boot_id")
    if path.exists():
        return path.read_text("ascii").strip()
    return f"up-since-{round((time.time() - time.monotonic()) / 3600)}"
