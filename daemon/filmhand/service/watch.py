"""Events only wake: whatever the watcher reports, or misses, the next listing finds it."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import structlog
from watchdog.events import FileSystemEvent, FileSystemEventHandler
from watchdog.observers import Observer

_log = structlog.get_logger()


class _Waker(FileSystemEventHandler):
    def __init__(self, wake: Callable[[], None]) -> None:
        self._wake = wake

    def on_any_event(self, event: FileSystemEvent) -> None:
        if event.event_type not in ("opened", "closed_no_write"):  # our own looking must not wake us
            self._wake()


@contextmanager
def watching(folders: tuple[Path, ...], wake: Callable[[], None]) -> Iterator[None]:
    """Call `wake` when something changes in any of the folders or below. Without events the listing still finds everything."""
    observer = Observer()
    try:
        for folder in folders:
            observer.schedule(_Waker(wake), str(folder), recursive=True)
        observer.start()
    except OSError as problem:
        _log.warning("no events from the system, the listing alone finds files", why=str(problem))
        yield
        return
    try:
        yield
    finally:
        observer.stop()
        observer.join()
