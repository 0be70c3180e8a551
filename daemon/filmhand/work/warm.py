"""Imported once, in the server process that children are forked from: they find it done.

When a process wants its first compiled kernel, numba reads its registries of types and functions, and scipy with them: most of
a second, ten times what a small file takes otherwise. A kernel that does nothing brings that about here.
"""

import numba


@numba.njit("int64(int64)")
def _nothing(value: int) -> int:
    return value
