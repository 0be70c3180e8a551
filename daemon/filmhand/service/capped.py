"""Work on one file in a child process of its own, with caps on memory, processor and wall time. It never takes others along.

The child is forked from a clean server process that has the heavy libraries loaded (where the system cannot fork, it is started
anew). It ends with its parent: a pipe that the parent holds open breaks when the parent dies.
"""

import multiprocessing
import os
import signal
import threading
import traceback
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from multiprocessing.connection import Connection
from typing import Any, Final, Generic, TypeVar

from filmhand.errors import FilmhandError

Result = TypeVar("Result")

_PRELOAD: Final = ["filmhand.service.prepare", "filmhand.service.lay_out", "filmhand.service.make_sheet"]


class Cause(StrEnum):
    """Why work on a file ended without a result."""

    TIME = "it took too long"
    MEMORY = "it needed too much memory"
    DIED = "the work on it broke off"
    FAULT = "filmhand made a mistake with it"
    REFUSED = "it could not go on"


@dataclass(frozen=True)
class Caps:
    """The most that work on one file may use."""

    memory_bytes: int
    seconds: float


@dataclass(frozen=True)
class Done(Generic[Result]):
    """The work's result."""

    value: Result


@dataclass(frozen=True)
class Failed:
    """Why there is no result, for people and for the log."""

    cause: Cause
    detail: str


def run_capped(work: Callable[..., Result], *arguments: Any, caps: Caps) -> Done[Result] | Failed:
    """Call `work(*arguments)` in a child process under caps. Both must be picklable. Waits; never raises for the work's sake."""
    context = _context()
    ours, theirs = context.Pipe()
    child = context.Process(target=_child, args=(theirs, work, arguments, caps), daemon=True)
    child.start()
    theirs.close()
    try:
        if not ours.poll(caps.seconds):
            return Failed(Cause.TIME, f"more than {caps.seconds:.0f} s")
        return _outcome(ours.recv())
    except EOFError:
        child.join()
        return Failed(Cause.DIED, f"the child process ended with {child.exitcode}")
    finally:
        child.kill()
        child.join()
        ours.close()


def _outcome(message: tuple[str, Any]) -> Done[Any] | Failed:
    kind, value = message
    return Done(value) if kind == "done" else Failed(Cause[kind], value)


def _context() -> Any:
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(_PRELOAD)
    return context


def _child(pipe: Connection, work: Callable[..., Any], arguments: tuple[Any, ...], caps: Caps) -> None:
    threading.Thread(target=_end_with_parent, args=(pipe,), daemon=True).start()
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the parent, which lets us finish
    _limit(caps)
    try:
        message = ("done", work(*arguments))
    except MemoryError:
        message = (Cause.MEMORY.name, f"more than {caps.memory_bytes >> 20} MiB")
    except FilmhandError as problem:
        message = (Cause.REFUSED.name, str(problem))
    except Exception:  # noqa: BLE001 -- the one catch-all: whatever a file does to us, the night goes on
        message = (Cause.FAULT.name, traceback.format_exc())
    pipe.send(message)
    os._exit(0)  # numeric libraries' threads and caches need no tidy end, and may hang in one


def _end_with_parent(pipe: Connection) -> None:
    """The parent sends nothing; the pipe reads only when the parent is gone."""
    try:
        pipe.recv_bytes()
    except (EOFError, OSError):
        os._exit(1)


def _limit(caps: Caps) -> None:
    """Caps by the system: address space and processor seconds (POSIX setrlimit); elsewhere only the wall time holds."""
    if os.name == "nt":
        return
    import resource  # noqa: PLC0415 -- not there on Windows

    resource.setrlimit(resource.RLIMIT_AS, (caps.memory_bytes, caps.memory_bytes))
    seconds = int(caps.seconds * (os.cpu_count() or 1)) + 1
    resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds + 5))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
