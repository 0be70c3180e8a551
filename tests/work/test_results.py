"""What comes back from a child process: data, whatever the bytes are and whichever Python made them."""

import io
import pickle
from enum import Enum
from typing import Any

import pytest

from filmhand.preflight.finding import Severity
from filmhand.work import results


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"no pickle",
        b"cfilmhand.durable\nremove_tree\n(S'/nowhere'\ntR.",
        b"cfilmhand.work.capped\nos.system\n(S'true'\ntR.",
        b"cfilmhand.__main__\nmain\n(tR.",
        b"cbuiltins\neval\n(S'1'\ntR.",
    ],
)
def test_other_bytes_are_no_result(data: bytes) -> None:
    """Broken ones, functions of filmhand, modules of filmhand that run when they are loaded, built-in functions."""
    with pytest.raises(results.UnusableResultError):
        results.unpacked(data)


class _AsIn3112(Enum):
    """Debian 12 has Python 3.11.2, where an enumeration is pickled like this."""

    A = "a"

    def __reduce_ex__(self, _: Any) -> Any:
        return getattr, (type(self), self.name)


def test_enumerations_come_back_whatever_python_makes_of_them(monkeypatch: pytest.MonkeyPatch) -> None:
    """By the class and the value, never by a function that could be called with anything."""
    assert b"getattr" in pickle.dumps(_AsIn3112.A)
    assert b"getattr" not in results.packed(_AsIn3112.A)
    monkeypatch.setattr(Severity, "__reduce_ex__", _AsIn3112.__reduce_ex__)
    assert results.unpacked(results.packed([Severity.HOLD, Severity.HOLD])) == [Severity.HOLD] * 2


class _Sender(pickle.Pickler):
    def persistent_id(self, value: Any) -> Any:
        return ["something"] if value == 0.5 else None


def test_a_number_from_elsewhere_is_a_number_and_nothing_else() -> None:
    """pickle lets what it does not know by itself be said in the sender's words (persistent ids): here, plain numbers only."""
    buffer = io.BytesIO()
    _Sender(buffer).dump([0.5])
    with pytest.raises(results.UnusableResultError, match="list is no number"):
        results.unpacked(buffer.getvalue())
