"""`filmhand backup SHOP FILE` and `filmhand restore FILE SHOP`."""

from pathlib import Path

from rich.console import Console

from filmhand.service.clock import SystemClock
from filmhand.shop import Shop
from filmhand.upkeep.backup import back_up
from filmhand.upkeep.restore import restore as restore_shop


def backup(root: Path, file: Path) -> None:
    """Write a backup; a running daemon is not disturbed."""
    shop = Shop.at(root)
    manifest = back_up(shop, file, now=SystemClock().now())
    say = Console(soft_wrap=True, markup=False).print
    say(f"{len(manifest.files)} files, {manifest.size / 1e6:.1f} MB, are in {file}")
    for path in manifest.missing:
        say(f"The journal names {path}, and it is not there: look at filmhand status {shop.root}")


def restore(file: Path, root: Path) -> None:
    """Make a shop out of a backup."""
    manifest = restore_shop(file, root, now=SystemClock().now())
    say = Console(soft_wrap=True, markup=False).print
    say(f"The shop as it was on {manifest.made:%d %b %Y at %H:%M} is in {root}")
    say("What was delivered after that will be printed again: compare with the sheets of that time before you start it")
    say(f"Then: filmhand doctor {root}, filmhand status {root}, filmhand run {root}")
