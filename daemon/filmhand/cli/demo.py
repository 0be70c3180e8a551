"""`filmhand demo [SHOP]`: a shop with invented orders, one batch, and where everything lies."""

import shutil
from pathlib import Path

from rich.console import Console

from filmhand.cli.batch import work_through
from filmhand.cli.new import make
from filmhand.demo.draw import draw_artworks
from filmhand.errors import SettingsError
from filmhand.shop import Shop

_MARK = ".made-by-filmhand-demo"


def demo(root: Path) -> None:
    """Draw, drop, work through, say. A demo shop from before is made anew; any other folder is left alone."""
    if (root / _MARK).exists():
        shutil.rmtree(root)
    elif root.exists() and any(root.iterdir()):
        raise SettingsError("This folder is not empty and no demo of ours", file=root, next_step="Name another folder")
    say = Console(soft_wrap=True).print
    shop = make(root)
    (root / _MARK).touch()
    say(f"Drawing the orders of an invented rowing club into {root / 'artwork'}")
    for file in draw_artworks(root / "artwork"):
        hot_folder = shop.inbox / file.hot_folder
        shutil.copyfile(file.path, hot_folder / file.name)
        if file.ticket is not None:
            (hot_folder / f"{file.name}.ticket.toml").write_text(file.ticket, "utf-8")
    say("Working through the hot folders (about two minutes on two cores)")
    report = work_through(shop)
    say(_where(shop, report))


def _where(shop: Shop, report: Path) -> str:
    lines = ["", "Where to look:"]
    for title, pattern in (
        ("Sheets for the print controller", "out/*/*/"),
        ("Previews, as on the garment", "out/*/*/preview.png"),
        ("Notes on what is held", "held/*/*/note.html"),
        ("Notes on what goes back", "rejects/*/*/note.html"),
    ):
        lines.append(f"  {title}:")
        found = [path for path in sorted(shop.root.glob(pattern)) if not path.parent.name.startswith(".")]
        lines += [f"    {path}" for path in found] or ["    (none)"]
    return "\n".join([*lines, f"  Report: {report}"])
