"""`filmhand new SHOP`: a shop's folders, settings and starter rules."""

from importlib.resources import files
from pathlib import Path

from rich.console import Console

from filmhand import starter
from filmhand.errors import SettingsError
from filmhand.shop import Shop


def new(root: Path) -> None:
    """Make a shop in a folder that has none. SettingsError when there is one: nothing of it is touched."""
    make(root)
    say = Console(soft_wrap=True).print
    say(f"A shop is ready in {root}")
    say(f"  1. Put your printer's figures into {root / 'printer.toml'}")
    say(f"  2. Look at the rules in {root / 'rules'}: each is a hot folder in {root / 'in'}")
    say(f"  3. Write your own garments into {root / 'garments.toml'}, your print sizes into {root / 'placements.toml'}")
    say(f"     and colours that are ordered by name into {root / 'colours.toml'}")
    say(f"  4. Drop artwork there, then: filmhand run {root}")


def make(root: Path) -> Shop:
    """The same, saying nothing."""
    if (root / "shop.toml").exists():
        raise SettingsError("There is a shop here already", file=root, next_step="Name another folder")
    (root / "rules").mkdir(parents=True, exist_ok=True)
    for rule in starter.rules():
        (root / "rules" / rule.name).write_text(rule.read_text("utf-8"), "utf-8")
    templates = files("filmhand") / "templates"
    # shop.toml last: with it the folder is a shop
    for name in ("printer.toml", "garments.toml", "placements.toml", "colours.toml", "shop.toml"):
        (root / name).write_text((templates / name).read_text("utf-8"), "utf-8")
    shop = Shop.at(root)
    shop.make_folders()
    return shop
