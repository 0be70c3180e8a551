"""Noticing that a shop's settings files changed while the daemon runs."""

from filmhand.errors import SettingsError
from filmhand.shop import House, Shop, load_house

Stamp = tuple[tuple[str, int, int], ...]
"""Name, size and time of every settings file."""


def stamp(shop: Shop) -> Stamp:
    """What the settings files look like from outside."""
    paths = [
        *(shop.root / name for name in ("shop.toml", "printer.toml", "garments.toml", "placements.toml")),
        *sorted((shop.root / "rules").glob("*.toml")),
        *sorted(shop.languages.glob("*.po")),
    ]
    return tuple((path.name, status.st_size, status.st_mtime_ns) for path in paths if path.exists() for status in (path.stat(),))


def load(shop: Shop) -> House:
    """All settings anew, with the folders that new rules need. SettingsError names what is wrong."""
    house = load_house(shop)
    try:
        shop.make_folders()
    except OSError as problem:
        raise SettingsError(
            f"The folders of the rules cannot be made: {problem}", file=shop.root, next_step="Mend the permissions"
        ) from None
    return house
