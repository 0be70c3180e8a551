"""A name for a layout before it is made: whoever keeps finished layouts finds the same work again by it."""

import hashlib
import json
from collections.abc import Sequence
from functools import lru_cache
from typing import Final

from filmhand.gang.nest import Item
from filmhand.gang.outline import Outline
from filmhand.rules import GangRules

_EDITION: Final = 1
"""Raised when the same items would be laid out in another way."""
_DECIDING: Final = {"gap", "rotate", "nest", "inside", "seconds", "max_length"}
"""The rule's keys that a layout depends on."""


def layout_key(items: Sequence[Item], *, width_mm: float, rules: GangRules, seed: int) -> str:
    """The SHA-256 (FIPS 180-4), as 64 hexadecimal digits, of all that decides how `nest` lays these items on a strip."""
    deciding = {
        "edition": _EDITION,
        "items": [(item.job, item.copy, item.part, _digest(item.outline)) for item in items],
        "width_mm": width_mm,
        "rules": rules.model_dump(mode="json", include=_DECIDING),
        "seed": seed,
    }
    return hashlib.sha256(json.dumps(deciding, sort_keys=True).encode()).hexdigest()


@lru_cache(maxsize=4096)
def _digest(outline: Outline) -> str:
    return hashlib.sha256(json.dumps(outline.to_json(), sort_keys=True).encode()).hexdigest()
