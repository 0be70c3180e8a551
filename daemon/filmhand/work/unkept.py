"""In a child that may not write where numba keeps compiled kernels (kernels.py): compiled for itself, and said."""

from typing import Any

from numba.core import caching


def keep_to_oneself() -> list[str]:
    """From here on, in this process, a kernel that cannot be kept is no fault; the list grows by the names of such kernels."""
    unkept: list[str] = []
    save: Any = caching.Cache.save_overload

    def saved_or_not(self: Any, signature: Any, data: Any) -> None:
        try:
            save(self, signature, data)
        except PermissionError:
            unkept.append(str(self._py_func.__qualname__))

    caching.Cache.save_overload = saved_or_not  # type: ignore[method-assign]
    return unkept
