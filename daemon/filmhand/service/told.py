"""What the system tells the daemon by signals.

Handlers run between any two steps of the main thread, whatever it holds just then: they note a word, ring, and take no lock.
"""

import signal
import sys
from types import FrameType

from filmhand.service.bell import Bell
from filmhand.service.reload import Watch


class Told:
    """SIGTERM and SIGINT: end. SIGHUP: read the settings anew; on a terminal it means that the terminal is gone: end."""

    def __init__(self, settings: Watch, bell: Bell) -> None:
        self._settings, self._bell = settings, bell
        self._is_to_end = False

    def listen(self) -> None:
        """From here on; in the main thread."""
        signal.signal(signal.SIGTERM, self._end)
        signal.signal(signal.SIGINT, self._end)
        if hasattr(signal, "SIGHUP"):  # not on Windows
            signal.signal(signal.SIGHUP, self._end if sys.stderr.isatty() else self._read_anew)

    def to_end(self) -> bool:
        """Whether nothing new is to be begun."""
        return self._is_to_end

    def _end(self, _signal: int, _frame: FrameType | None) -> None:
        self._is_to_end = True
        self._bell.ring()

    def _read_anew(self, _signal: int, _frame: FrameType | None) -> None:
        self._settings.doubt()
        self._bell.ring()
