"""The small shop as a fixture."""

from small_shop import shop

__all__ = ["shop"]
