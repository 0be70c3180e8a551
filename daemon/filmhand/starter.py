"""The starter rules that come with the package."""

from importlib.resources import files
from pathlib import Path

from filmhand.errors import NotFoundError


def rules() -> list[Path]:
    """Every starter rule file, by name."""
    return sorted(_folder().glob("*.toml"))


def rule(name: str) -> Path:
    """A starter rule by its name. NotFoundError lists those there are."""
    found = {path.stem: path for path in rules()}
    if name not in found:
        raise NotFoundError(f"There is no starter rule {name!r}", next_step=f"Name a rule file, or one of: {', '.join(found)}")
    return found[name]


def _folder() -> Path:
    installed = Path(str(files("filmhand") / "starter_rules"))
    return installed if installed.is_dir() else Path(__file__).resolve().parents[2] / "rules"
