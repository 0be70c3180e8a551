"""How the loop is woken by whoever has something for it: threads, and handlers of signals."""

from contextlib import suppress
from queue import Empty, SimpleQueue


class Bell:
    """Rung once or a thousand times before anybody listens, it is heard once.

    Not a threading.Event: to set one takes a lock, and a handler of a signal runs between any two steps of the main thread,
    which may be holding it just then. A SimpleQueue may be put to from there (library reference, queue: "reentrant").
    """

    def __init__(self) -> None:
        self._rings: SimpleQueue[None] = SimpleQueue()

    def ring(self) -> None:
        """Wake who waits, or who will wait next."""
        if self._rings.empty():  # one is enough: who hears it looks at everything after
            self._rings.put(None)

    def wait(self, longest: float) -> None:
        """Return once it has rung since the last time, at the latest after so many seconds."""
        with suppress(Empty):
            self._rings.get(timeout=longest)
            while True:
                self._rings.get_nowait()
