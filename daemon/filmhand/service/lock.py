"""One filmhand a shop: a lock on a file in the state folder, let go by the system when the process ends, however it ends."""

import os
import sys
from pathlib import Path
from types import TracebackType
from typing import Self

from filmhand.errors import ShopBusyError


class ShopLock:
    """Held while a process works on a shop. ShopBusyError at once when another holds it."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._descriptor: int | None = None

    def __enter__(self) -> Self:
        descriptor = os.open(self._path, os.O_RDWR | os.O_CREAT, 0o644)
        try:
            _lock(descriptor)
        except OSError:
            os.close(descriptor)
            raise ShopBusyError(
                "Another filmhand has this shop", file=self._path, next_step="Let it work, or stop it first (SIGTERM)"
            ) from None
        self._descriptor = descriptor
        return self

    def __exit__(self, kind: type[BaseException] | None, value: BaseException | None, traceback: TracebackType | None) -> None:
        if self._descriptor is not None:
            os.close(self._descriptor)
            self._descriptor = None


def is_held(path: Path) -> bool | None:
    """Whether a process works on the shop; None when that cannot be known. The lock file is not made, nor kept locked."""
    try:
        descriptor = os.open(path, os.O_RDONLY)
    except FileNotFoundError:
        return False
    except OSError:
        return None
    try:
        _lock(descriptor, shared=True)
    except OSError:
        return True
    finally:
        os.close(descriptor)
    return False


def _lock(descriptor: int, *, shared: bool = False) -> None:
    if sys.platform == "win32":
        import msvcrt  # noqa: PLC0415 -- only there on Windows

        msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
    else:
        import fcntl  # noqa: PLC0415 -- not there on Windows

        fcntl.flock(descriptor, (fcntl.LOCK_SH if shared else fcntl.LOCK_EX) | fcntl.LOCK_NB)
