"""Noticing that a shop's settings files changed while the daemon runs."""

from filmhand.errors import SettingsError
from filmhand.notices.addresses import read_file
from filmhand.shop import House, Shop, Whence, load_house
from filmhand.work.colour_files import check_every_rule

Stamp = tuple[tuple[str, int, int], ...]
"""Name, size and time of every settings file, and of the profiles and links beside them."""


class Watch:
    """Whether a shop's settings are to be read anew. Made before they are first read, so that no change slips between."""

    def __init__(self, shop: Shop) -> None:
        self._shop = shop
        self._seen = stamp(shop)
        self._is_doubted = False

    def is_due(self) -> bool:
        """Whether the files look another way than when this was last asked, or somebody doubted them since."""
        before, self._seen = self._seen, stamp(self._shop)
        if self._is_doubted:
            self._is_doubted = False  # only here, where it was seen: a doubt of this very instant is not lost
            return True
        return self._seen != before

    def doubt(self) -> None:
        """Read them anew whatever they look like; may be called in a handler of a signal."""
        self._is_doubted = True


def stamp(shop: Shop) -> Stamp:
    """What the settings files look like from outside."""
    paths = [
        *sorted(path for path in shop.root.iterdir() if path.is_file() and not path.name.startswith(".")),
        *sorted((shop.root / "rules").glob("*.toml")),
        *sorted(shop.languages.glob("*.po")),
        *sorted(path for path in shop.printers.glob("*") if path.is_file()),
    ]
    return tuple((path.name, status.st_size, status.st_mtime_ns) for path in paths if path.exists() for status in (path.stat(),))


def load(shop: Shop) -> House:
    """All settings anew, with the folders that new rules need. SettingsError names what is wrong."""
    house = load_house(shop)
    check_every_rule(house)
    if house.settings.notify_from is Whence.FILE:
        read_file(shop.root)
    try:
        shop.make_folders()
    except OSError as problem:
        raise SettingsError(
            f"The folders of the rules cannot be made: {problem}", file=shop.root, next_step="Mend the permissions"
        ) from None
    return house
