"""Work in a capped child: a result, or the cause that there is none; the parent always goes on."""

import os
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from filmhand.errors import MachineError
from filmhand.work.capped import Caps, Cause, Done, Failed, run_capped

CAPS = Caps(memory_bytes=3 << 30, seconds=20)


def _double(number: int) -> int:
    return 2 * number


def _spin() -> None:
    while True:
        time.monotonic()


def _allocate() -> int:
    return sum(int(np.ones(1 << 27)[-1]) for _ in iter([np.ones(1 << 30)]))


def _die() -> None:
    os.abort()


def _is_warm() -> list[Any]:
    """Whether numba's registries were read before; and how many threads the server process has that forked us."""
    tasks = Path(f"/proc/{os.getppid()}/task")
    return ["numba.np.linalg" in sys.modules, len(list(tasks.iterdir())) if tasks.is_dir() else 1]


def _raise(problem: Exception) -> None:
    raise problem


def test_a_result_comes_back() -> None:
    """Whatever the work returns."""
    assert run_capped(_double, 21, caps=CAPS) == Done(42)


def _count() -> dict[str, Any]:
    return {"share": np.float64(0.5), "pixels": np.intp(3), "seen": np.bool_(True), "kinds": (np.float32(0.25), np.str_("dot"))}


def test_numbers_of_arithmetic_come_back_plain() -> None:
    """numpy's kinds of numbers, which a check's share may be, are not refused as strangers' objects."""
    outcome = run_capped(_count, caps=CAPS)
    assert isinstance(outcome, Done)
    assert repr(outcome.value) == "{'share': 0.5, 'pixels': 3, 'seen': True, 'kinds': (0.25, 'dot')}"


def test_a_child_finds_the_compiler_warm() -> None:
    """What the first kernel of a process costs was paid by the server process, which has one thread: forking it is safe."""
    assert run_capped(_is_warm, caps=CAPS) == Done([True, 1])


def test_too_long() -> None:
    """A child that does not end is ended."""
    assert run_capped(_spin, caps=Caps(3 << 30, 1)) == Failed(Cause.TIME, "more than 1 s")


def test_too_much_memory() -> None:
    """8 GiB under a cap of 3: the system refuses, the child says so."""
    assert run_capped(_allocate, caps=CAPS) == Failed(Cause.MEMORY, "more than 3072 MiB")


def test_memory_counts_beyond_what_a_child_is_born_with() -> None:
    """The libraries alone take up more than 256 MiB of address space: work that needs little has room under such a cap."""
    assert run_capped(_double, 21, caps=Caps(256 << 20, 20)) == Done(42)
    failed = run_capped(_allocate, caps=Caps(256 << 20, 20))
    assert isinstance(failed, Failed)
    assert failed.cause is Cause.MEMORY


def test_a_crash_is_only_the_childs() -> None:
    """An abort in a decoder ends the child, not us; the next child works."""
    outcome = run_capped(_die, caps=CAPS)
    assert isinstance(outcome, Failed)
    assert outcome.cause is Cause.DIED
    assert run_capped(_double, 1, caps=CAPS) == Done(2)


@pytest.mark.parametrize(
    ("problem", "cause"),
    [
        (MachineError("The disk is full", next_step="Make room"), Cause.REFUSED),
        (ValueError("a mistake of ours"), Cause.FAULT),
    ],
)
def test_exceptions_come_back_as_causes(problem: Exception, cause: Cause) -> None:
    """What we refuse is said in its own words; a mistake of ours brings its traceback for the log."""
    outcome = run_capped(_raise, problem, caps=CAPS)
    assert isinstance(outcome, Failed)
    assert outcome.cause is cause
    assert str(problem) in outcome.detail
