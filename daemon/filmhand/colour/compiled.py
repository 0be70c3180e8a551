"""The one way kernels are compiled here: kept on disk between runs, and free of the interpreter's lock for threads.

What is kept is renewed when a kernel's own file changes, not when another file does: kernels call kernels of their own file only.
"""

from collections.abc import Callable
from typing import Any, TypeVar, cast

import numba

Kernel = TypeVar("Kernel", bound=Callable[..., Any])


def compiled(function: Kernel) -> Kernel:
    """The function, compiled by numba at its first call. Division by zero follows IEEE 754 instead of raising."""
    return cast(Kernel, numba.njit(cache=True, nogil=True, error_model="numpy")(function))
