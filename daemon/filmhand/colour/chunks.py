"""Arrays worked through in pieces on several threads: the kernels let go of the interpreter's lock."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Final, TypeVar

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Results = tuple[Floats, Floats]
Result = TypeVar("Result")

_CHUNK: Final = 2048
"""Colours a piece: some milliseconds of work, and enough pieces for all threads."""


def in_chunks(work: Callable[[slice], Floats], count: int) -> Floats:
    """The array that `work` gives for each part of `count` colours, put together."""
    return np.concatenate(_done(work, count))


def pairs_in_chunks(work: Callable[[slice], Results], count: int) -> Results:
    """The same for work that gives two arrays."""
    done = _done(work, count)
    return np.concatenate([first for first, _ in done]), np.concatenate([second for _, second in done])


def _done(work: Callable[[slice], Result], count: int) -> list[Result]:
    parts = [slice(at, min(at + _CHUNK, count)) for at in range(0, count, _CHUNK)]
    if len(parts) <= 1:
        return [work(slice(0, count))]
    with ThreadPoolExecutor(thread_name_prefix="colour") as pool:
        return list(pool.map(work, parts))
