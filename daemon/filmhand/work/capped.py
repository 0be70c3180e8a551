"""Work on one file in a child process of its own, capped and confined (confine.py). It never takes others along.

Caps: memory, wall time, processor time, what it writes, open files; no memory image when it crashes. The child is forked from a
clean server process that has the heavy libraries loaded (where the system cannot fork, it is started anew). It ends with its
parent: a pipe that the parent holds open breaks when the parent dies.
"""

import errno
import multiprocessing
import os
import signal
import threading
import time
import traceback
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any, Final, Generic, TypeVar

import structlog

from filmhand import durable
from filmhand.errors import FilmhandError
from filmhand.work import results
from filmhand.work.confine import Reach, confine
from filmhand.work.unkept import keep_to_oneself

Result = TypeVar("Result")

_log = structlog.get_logger()

_PRELOAD: Final = [
    "filmhand.work.prepare",
    "filmhand.work.lay_out",
    "filmhand.work.make_sheet",
    "filmhand.work.kernels",
    "filmhand.work.warm",
]
_MOST_OPEN: Final = 4096
"""Open files: a sheet of many designs reads several of each."""
_LOOK_EVERY_S: Final = 0.5
"""How often it is looked how much was written."""
_GRACE_S: Final = 5.0
_FOR_THE_PARENT: Final = tuple(getattr(signal, name) for name in ("SIGINT", "SIGHUP") if hasattr(signal, name))
"""A terminal sends these to all of its processes (Ctrl-C, closing it). The parent lets us finish."""


class Cause(StrEnum):
    """Why work on a file ended without a result."""

    TIME = "it took too long"
    MEMORY = "it needed too much memory"
    OUTPUT = "it wrote too much"
    SPACE = "the disk was full"
    DIED = "the work on it broke off"
    FAULT = "filmhand made a mistake with it"
    REFUSED = "it could not go on"


@dataclass(frozen=True)
class Caps:
    """The most that work on one file may use."""

    memory_bytes: int
    """Address space beyond what a child is born with, which is the libraries'."""
    seconds: float
    output_bytes: int = 16 << 30
    """Together, in its own folder; no single file may be larger."""
    processor_seconds: float | None = None
    """Of all its threads together; None: as many as the wall time has on every processor."""


@dataclass(frozen=True)
class Done(Generic[Result]):
    """The work's result."""

    value: Result


@dataclass(frozen=True)
class Failed:
    """Why there is no result, for people and for the log."""

    cause: Cause
    detail: str


def run_capped(work: Callable[..., Result], *arguments: Any, caps: Caps, reach: Reach | None = None) -> Done[Result] | Failed:
    """Call `work(*arguments)` in a child process under caps. Both must be picklable. Waits; never raises for the work's sake.

    `reach`: which files it may touch; None: any, as for work on what is our own. There is no network in either case. OSError
    where its own folder cannot be made.
    """
    if reach is not None and reach.own is not None:
        durable.remove_tree(reach.own)
        reach.own.mkdir(parents=True)
    context = _context()
    ours, theirs = context.Pipe()
    child = context.Process(target=_child, args=(theirs, work, arguments, (caps, reach)), daemon=True)
    child.start()
    theirs.close()
    last = threading.Timer(caps.seconds + _GRACE_S, child.kill)  # also while half of a result is awaited
    last.start()
    try:
        return _watched(ours, caps, reach) or _outcome(results.unpacked(ours.recv_bytes(results.MOST_BYTES)))
    except (EOFError, ConnectionError):
        child.join()
        return _ended(child.exitcode, caps)
    except (results.UnusableResultError, OSError, ValueError, TypeError, KeyError) as problem:
        return Failed(Cause.DIED, f"what the child process sent is no result: {problem}")
    finally:
        last.cancel()
        child.kill()
        child.join()
        ours.close()


def _watched(pipe: Connection, caps: Caps, reach: Reach | None) -> Failed | None:
    """Wait for a result, and look how much is written meanwhile; why it goes on no longer, or None once there is something."""
    until = time.monotonic() + caps.seconds
    own = None if reach is None else reach.own
    while True:
        left = until - time.monotonic()
        has_ended = pipe.poll(max(0.0, min(left, _LOOK_EVERY_S) if own else left))
        if own is not None and _bytes_in(own) > caps.output_bytes:
            return Failed(Cause.OUTPUT, _too_much(caps))
        if has_ended:
            return None
        if left <= 0:
            return Failed(Cause.TIME, f"more than {caps.seconds:.0f} s")


def _bytes_in(folder: Path) -> int:
    """What a folder that is being filled takes on the disk, without what goes while it is looked at."""
    total, folders = 0, [str(folder)]
    while folders:
        try:
            with os.scandir(folders.pop()) as entries:
                for entry in entries:
                    status = entry.stat(follow_symlinks=False)
                    total += getattr(status, "st_blocks", status.st_size // 512) * 512
                    if entry.is_dir(follow_symlinks=False):
                        folders.append(entry.path)
        except OSError:
            continue
    return total


def _too_much(caps: Caps) -> str:
    return f"more than {caps.output_bytes >> 20} MiB"


def _ended(code: int | None, caps: Caps) -> Failed:
    """Why a child ended by itself, by its exit code: minus the signal."""
    if code is not None and -code == getattr(signal, "SIGXCPU", None):
        return Failed(Cause.TIME, f"more than {_processor_seconds(caps)} s of the processor")
    return Failed(Cause.DIED, f"the child process ended with {code}")


def _outcome(message: tuple[str, Any, list[str]]) -> Done[Any] | Failed:
    kind, value, unkept = message
    if unkept:
        _log.warning("compiled anew, and not kept", kernels=len(unkept), first=str(unkept[0]))
    return Done(value) if kind == "done" else Failed(Cause[kind], str(value))


def _context() -> Any:
    if "forkserver" not in multiprocessing.get_all_start_methods():
        return multiprocessing.get_context("spawn")
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(_PRELOAD)
    return context


def _child(pipe: Connection, work: Callable[..., Any], arguments: tuple[Any, ...], bounds: tuple[Caps, Reach | None]) -> None:
    caps, reach = bounds
    for one in _FOR_THE_PARENT:
        signal.signal(one, signal.SIG_IGN)
    unkept = [] if reach is None else keep_to_oneself()
    try:
        born_with = _born_with()  # while we may still look
        confine(reach)  # before there is another thread, which would go free; where it fails, no work is done
        threading.Thread(target=_end_with_parent, args=(pipe,), daemon=True).start()
        _limit(caps, born_with)  # after it: a thread that finds no memory to begin with leaves its maker waiting for ever
        message = ("done", work(*arguments))
    except MemoryError:
        message = (Cause.MEMORY.name, f"more than {caps.memory_bytes >> 20} MiB")
    except FilmhandError as problem:
        message = (Cause.REFUSED.name, str(problem))
    except Exception as problem:  # noqa: BLE001 -- the one catch-all: whatever a file does to us, the night goes on
        is_output = isinstance(problem, OSError) and problem.errno == errno.EFBIG
        cause = Cause.SPACE if is_for_space(problem) else Cause.FAULT
        message = (Cause.OUTPUT.name, _too_much(caps)) if is_output else (cause.name, traceback.format_exc())
    pipe.send_bytes(results.packed((*message, unkept)))
    os._exit(0)  # numeric libraries' threads and caches need no tidy end, and may hang in one


def is_for_space(problem: BaseException) -> bool:
    """Whether an error says that a disk, or what we may have of it, is full."""
    return isinstance(problem, OSError) and problem.errno in (errno.ENOSPC, errno.EDQUOT)


def _end_with_parent(pipe: Connection) -> None:
    """The parent sends nothing; the pipe reads only when the parent is gone."""
    try:
        pipe.recv_bytes()
    except (EOFError, OSError):
        os._exit(1)


def _limit(caps: Caps, born_with: int) -> None:
    """Caps by the system (POSIX setrlimit): address space, processor seconds, a file's size, open files, no memory image.

    Elsewhere only the wall time and what is written hold.
    """
    if os.name == "nt":
        return
    import resource  # noqa: PLC0415 -- not there on Windows

    seconds, memory = _processor_seconds(caps), born_with + caps.memory_bytes
    limits = {
        resource.RLIMIT_AS: (memory, memory),
        resource.RLIMIT_CPU: (seconds, seconds + 5),  # a signal that says what it was, then the plain end
        resource.RLIMIT_FSIZE: (caps.output_bytes, caps.output_bytes),
        resource.RLIMIT_NOFILE: (_MOST_OPEN, _MOST_OPEN),
        resource.RLIMIT_CORE: (0, 0),
    }
    for which, (soft, hard) in limits.items():
        highest = resource.getrlimit(which)[1]
        if highest != resource.RLIM_INFINITY:
            soft, hard = min(soft, highest), min(hard, highest)  # noqa: PLW2901
        resource.setrlimit(which, (soft, hard))


def _born_with() -> int:
    """Address space taken so far, bytes; 0 where the system does not say (proc(5), statm)."""
    try:
        pages = int(Path("/proc/self/statm").read_text("ascii").split()[0])
    except (OSError, ValueError):
        return 0
    return pages * os.sysconf("SC_PAGE_SIZE")


def _processor_seconds(caps: Caps) -> int:
    given = caps.processor_seconds
    return int(caps.seconds * (os.cpu_count() or 1) if given is None else given) + 1
