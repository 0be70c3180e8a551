"""Whether there is room to go on: free space where the shop writes. What to do without it is for decide.py."""

import shutil
from collections.abc import Mapping
from typing import Final

import structlog

from filmhand.shop import Shop

_log = structlog.get_logger()

_MORE: Final = 1.1
"""So much more than the least must be free before it goes on: on the very edge it would stop and start all night."""

_NO_ROOM_MIB: Final = 64
"""Less than the planes of a large design take (chosen, not measured): work may fail for it whatever a shop sets as the least."""


def look(shop: Shop, least_mib: int, before: tuple[str, ...]) -> tuple[str, ...]:
    """Folders of the shop on whose disk too little is free. `before`: what this said last; a change is said in the log."""
    free = measured(shop)
    short = short_of(free, least_mib, before)
    if short and not before:
        sizes = {name: f"{free[name]} MiB free" for name in short}
        _log.error("the disk is nearly full: nothing new is begun until there is room", least=f"{least_mib} MiB", **sizes)
    elif before and not short:
        _log.info("there is room on the disk again: work goes on", **{name: f"{free.get(name)} MiB free" for name in before})
    return short


def short_of(free_mib: Mapping[str, int], least_mib: int, before: tuple[str, ...]) -> tuple[str, ...]:
    """Names with less than the least free, or not yet a tenth more where it was less before. Pure."""
    return tuple(name for name, free in free_mib.items() if free < least_mib * (_MORE if name in before else 1))


def is_nearly_full(shop: Shop, least_mib: int) -> bool:
    """Whether work that ended just now may have ended for want of room, what it left half made being still there."""
    return bool(short_of(measured(shop), max(least_mib, _NO_ROOM_MIB), ()))


def measured(shop: Shop) -> dict[str, int]:
    """MiB free to us on the disks of the shop, its spool and its output. One that cannot be asked is left out."""
    places = {"shop": shop.root, "spool": shop.spool, "out": shop.staging}
    free = {}
    for name, path in places.items():
        try:
            free[name] = shutil.disk_usage(path).free >> 20
        except OSError as problem:
            _log.warning("free space cannot be asked for", folder=str(path), why=str(problem))
    return free
