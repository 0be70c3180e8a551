"""Events only wake: whatever the watcher reports, or misses, the next listing finds it."""

import errno
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from threading import Thread
from typing import Final

import structlog
from watchdog.events import FileSystemEvent, FileSystemEventHandler
from watchdog.observers import Observer
from watchdog.observers.api import BaseObserver

_log = structlog.get_logger()

_LIMITS: Final[Mapping[int, str]] = {
    errno.ENOSPC: "the limit fs.inotify.max_user_watches is reached; raise it with sysctl, or do without events",
    errno.EMFILE: "the limit fs.inotify.max_user_instances, or that of open files, is reached; raise it, or do without events",
}
"""What Linux means by these errors of a watch (inotify_init(2), inotify_add_watch(2))."""

_LONGEST_TIDYING_S: Final = 5.0


class _Waker(FileSystemEventHandler):
    def __init__(self, wake: Callable[[], None]) -> None:
        self._wake = wake

    def on_any_event(self, event: FileSystemEvent) -> None:
        if event.event_type not in ("opened", "closed_no_write"):  # our own looking must not wake us
            self._wake()


@contextmanager
def watching(folders: tuple[Path, ...], wake: Callable[[], None]) -> Iterator[None]:
    """Call `wake` when something changes in any of the folders or below. Without events the listing still finds everything.

    Watches are set up in a thread of their own: a server that hangs must not hold up the start.
    """
    observers: list[BaseObserver] = []
    Thread(target=_set_up, args=(observers, folders, wake), name="set up watches", daemon=True).start()
    try:
        yield
    finally:
        tidying = Thread(target=_take_down, args=(observers,), name="end watches", daemon=True)
        tidying.start()
        tidying.join(_LONGEST_TIDYING_S)


def why_no_events(problem: OSError) -> str:
    """What a person must know of a watch that the system refused."""
    return _LIMITS.get(problem.errno or 0, str(problem))


def _set_up(observers: list[BaseObserver], folders: tuple[Path, ...], wake: Callable[[], None]) -> None:
    try:
        observer = Observer()
        observer.start()
    except OSError as problem:
        _log.warning("no events from the system, the listing alone finds files", why=why_no_events(problem))
        return
    observers.append(observer)
    for folder in folders:
        try:
            observer.schedule(_Waker(wake), str(folder), recursive=True)
        except OSError as problem:
            _log.warning("no events, the listing alone finds files here", folder=str(folder), why=why_no_events(problem))
    wake()  # what came before its watch was set is found by a listing now


def _take_down(observers: list[BaseObserver]) -> None:
    for observer in observers:
        observer.stop()
        observer.join()
