"""The small shop's tables as a fixture."""

from small_shop import warm_cache

__all__ = ["warm_cache"]
