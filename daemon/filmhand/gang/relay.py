"""What error diffusion hands on from one band of a sheet to the next, copy by copy, while bands are made at the same time.

Bands are begun in order, so the one that a band waits for is always under way or done.
"""

from collections.abc import Iterator, Mapping
from concurrent.futures import Future, InvalidStateError
from contextlib import contextmanager, suppress
from threading import Lock

from filmhand.halftone.diffusion import Carried

LeftOver = Mapping[str, Carried]
"""By ink."""


class Relay:
    """Hands on what is left over below bands of `rows` rows each."""

    def __init__(self, rows: int) -> None:
        self.rows = rows
        self._handed: dict[tuple[int, int], Future[LeftOver]] = {}
        self._failure: BaseException | None = None
        self._lock = Lock()

    def take(self, copy: int, top: int) -> LeftOver:
        """What the band above the row `top` left over of a copy; waits for it. Raises what made that band fail."""
        left_over = self._at(copy, top).result()
        with self._lock:
            del self._handed[copy, top]
        return left_over

    def give(self, copy: int, top: int, left_over: LeftOver) -> None:
        """Hand on what the band that begins at the row `top` left over of a copy."""
        with suppress(InvalidStateError):  # a band failed meanwhile, and said so to whoever waits
            self._at(copy, top + self.rows).set_result(left_over)

    @contextmanager
    def failing_together(self) -> Iterator[None]:
        """Lets no band wait for one that failed."""
        try:
            yield
        except BaseException as failure:
            with self._lock:
                self._failure = self._failure or failure
                waiting = [one for one in self._handed.values() if not one.done()]
            for one in waiting:
                with suppress(InvalidStateError):  # just now it was given
                    one.set_exception(failure)
            raise

    def _at(self, copy: int, top: int) -> Future[LeftOver]:
        with self._lock:
            if (copy, top) not in self._handed:
                self._handed[copy, top] = Future()
                if self._failure is not None:
                    self._handed[copy, top].set_exception(self._failure)
            return self._handed[copy, top]
