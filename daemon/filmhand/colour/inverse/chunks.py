"""Arrays worked through in pieces on several threads: the kernels let go of the interpreter's lock."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Final

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Results = tuple[Floats, Floats]

_CHUNK: Final = 2048
"""Colours a piece: some milliseconds of work, and enough pieces for all threads."""


def in_chunks(work: Callable[[slice], Results], count: int) -> Results:
    """The two arrays that `work` gives for each part of `count` colours, put together."""
    parts = [slice(at, min(at + _CHUNK, count)) for at in range(0, count, _CHUNK)]
    if len(parts) <= 1:
        return work(slice(0, count))
    with ThreadPoolExecutor(thread_name_prefix="inverse") as pool:
        done = list(pool.map(work, parts))
    return np.concatenate([first for first, _ in done]), np.concatenate([second for _, second in done])
