"""The small shop as a fixture."""

from small_shop import shop, warm_cache

__all__ = ["shop", "warm_cache"]
