"""What comes back from a child process: taken apart as data, for the child has read what a stranger sent.

A pickle can name any function to call. Here it may name only frozen records and enumerations of filmhand, and paths. Numbers of
numpy's kinds, which arithmetic leaves behind and no type checker tells from plain ones, travel as plain ones.
"""

import io
import pickle
import sys
from dataclasses import is_dataclass
from enum import Enum
from pathlib import PosixPath, WindowsPath
from typing import Any, Final

import numpy as np

MOST_BYTES: Final = 256 << 20
"""More than any result has."""

_PATHS: Final = {("pathlib", "PosixPath"): PosixPath, ("pathlib", "WindowsPath"): WindowsPath}


class UnusableResultError(Exception):
    """What a child sent is no result."""


def packed(value: Any) -> bytes:
    """A result as bytes."""
    buffer = io.BytesIO()
    _Plain(buffer, protocol=5).dump(value)
    return buffer.getvalue()


def unpacked(data: bytes) -> Any:
    """A result from bytes. UnusableResultError where they hold anything that a result does not."""
    try:
        return _Careful(io.BytesIO(data)).load()
    except UnusableResultError:
        raise
    except Exception as problem:  # noqa: BLE001 -- whatever broken bytes make of it
        raise UnusableResultError(str(problem)) from None


class _Plain(pickle.Pickler):
    def persistent_id(self, value: Any) -> Any:
        return value.item() if isinstance(value, np.generic) else None

    def reducer_override(self, value: Any) -> Any:
        """Enumerations by their values, as Python does but for 3.11.0 to 3.11.3, which name `getattr` (CPython, enum.py)."""
        return (type(value), (value.value,)) if isinstance(value, Enum) else NotImplemented


class _Careful(pickle.Unpickler):
    def persistent_load(self, number: Any) -> bool | int | float | str:
        if isinstance(number, bool | int | float | str):
            return number
        raise UnusableResultError(f"{type(number).__name__} is no number")

    def find_class(self, module: str, name: str) -> Any:
        if (module, name) in _PATHS:
            return _PATHS[module, name]
        loaded = sys.modules.get(module)  # never imported for its sake: that would run it
        if module.partition(".")[0] == "filmhand" and loaded is not None:
            found = vars(loaded).get(name)
            if isinstance(found, type) and (is_dataclass(found) or issubclass(found, Enum)):
                return found
        raise UnusableResultError(f"it names {module}.{name}")
