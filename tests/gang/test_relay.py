"""What is handed from band to band: waited for, given once, and never waited for in vain."""

from concurrent.futures import ThreadPoolExecutor

import pytest

from filmhand.gang.relay import Relay


def test_a_band_waits_for_the_one_above() -> None:
    """What is taken first is had once it is given."""
    relay = Relay(64)
    with ThreadPoolExecutor(1) as pool:
        taken = pool.submit(relay.take, 3, 64)
        left_over: dict[str, object] = {}
        relay.give(3, 0, left_over)  # type: ignore[arg-type]  # any mapping will do
        assert taken.result(timeout=60) is left_over


def test_a_band_that_fails_lets_none_wait() -> None:
    """Whoever waits, or comes later, hears what went wrong above."""
    relay = Relay(64)
    with ThreadPoolExecutor(1) as pool:
        waiting = pool.submit(relay.take, 0, 64)
        with pytest.raises(OSError, match="disk"), relay.failing_together():
            raise OSError("the disk is full")
        with pytest.raises(OSError, match="disk"):
            waiting.result(timeout=60)
    with pytest.raises(OSError, match="disk"):
        relay.take(1, 128)
