"""The bell of the loop: no ring is lost, and none deadlocks."""

import signal
import subprocess
import sys
import threading

import pytest

from filmhand.service.bell import Bell

FLOOD = """
import signal, threading
from filmhand.service.bell import Bell

bell, rings = {made}, 0

def ring(_signal, _frame):
    global rings
    rings += 1
    bell.{ring}()

signal.signal(signal.SIGALRM, ring)
signal.setitimer(signal.ITIMER_REAL, 2e-5, 2e-5)
while rings < 20_000:
    {wait}
signal.setitimer(signal.ITIMER_REAL, 0)
print(rings)
"""
"""A process that waits for a bell again and again, while the handler of a signal rings it at any instant."""
needs_signals = pytest.mark.skipif(not hasattr(signal, "setitimer"), reason="no such signals on this system")


def _flooded(seconds: float, **words: str) -> int:
    done = subprocess.run(
        [sys.executable, "-c", FLOOD.format(**words)], capture_output=True, text=True, timeout=seconds, check=True
    )
    return int(done.stdout)


def test_rung_before_it_is_waited_for() -> None:
    """Once, however often it rang."""
    bell = Bell()
    bell.ring()
    bell.ring()
    bell.wait(60)  # at once
    bell.wait(0.01)  # in its own time: nothing is left of them


def test_rung_while_it_is_waited_for() -> None:
    """By another thread."""
    bell = Bell()
    threading.Thread(target=bell.ring).start()
    bell.wait(60)


@needs_signals
def test_signals_at_any_instant_do_not_hang_it() -> None:
    """Twenty thousand of them."""
    assert _flooded(60.0, made="Bell()", ring="ring", wait="bell.wait(0.00001)") > 0


@needs_signals
def test_an_event_of_the_standard_library_would_hang() -> None:
    """Why there is a bell (negative control): a handler waits for a lock that the thread which it interrupted holds, and the
    next one for the same, on and on; a thousand inside each other end the process, one alone hangs it.
    """
    with pytest.raises((subprocess.CalledProcessError, subprocess.TimeoutExpired)):
        _flooded(10.0, made="threading.Event()", ring="set", wait="bell.wait(0.00001); bell.clear()")
