"""What a shop calls its garments, the places on them and its colours: `garments.toml`, `placements.toml`, `colours.toml`. Pure.

A name is found however it is capitalised or spaced, and by any of its other words (`also`).
"""

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING, Generic, Self, TypeVar

from pydantic import Field, model_validator

from filmhand import settings_file
from filmhand.errors import SettingsError
from filmhand.rule_values import Hex, Mm, Worded

if TYPE_CHECKING:  # it calculates, and most commands would load its libraries for nothing
    from filmhand.colour.named import NamedColour


class Garment(Worded):
    """A garment that the shop prints on, under its name in brackets: `["navy tee"]`."""

    colour: Hex
    """Colour of the cloth: "#" and six digits."""
    fabric: str | None = Field(default=None, max_length=200)
    """What it is made of."""
    advice: str | None = Field(default=None, max_length=1000)
    """What the operator should know before pressing it."""


class Place(Worded):
    """A place on a garment, under its name in brackets: `["left chest"]`. One length or both."""

    width: Mm | None = Field(default=None, gt=0)
    """Printed width. With `height` too, the artwork is fitted inside both."""
    height: Mm | None = Field(default=None, gt=0)
    """Printed height."""

    @model_validator(mode="after")
    def _some_length(self) -> Self:
        if self.width is None and self.height is None:
            raise ValueError("expected width or height: how large a print there is")
        return self


Entry = TypeVar("Entry", bound=Worded)


@dataclass(frozen=True)
class Named(Generic[Entry]):
    """Things by their names, as the shop writes them. `names` leads from every word for a thing, folded, to its name."""

    entries: Mapping[str, Entry] = field(default_factory=dict)
    names: Mapping[str, str] = field(default_factory=dict)

    def find(self, word: str) -> tuple[str, Entry] | None:
        """The name and the thing that a word stands for."""
        name = self.names.get(_folded(word))
        return None if name is None else (name, self.entries[name])

    def near(self, word: str) -> tuple[str, ...]:
        """Up to three names that look like a word, the likeliest first."""
        close = get_close_matches(_folded(word), self.names, n=6, cutoff=0.6)
        return tuple(dict.fromkeys(self.names[folded] for folded in close))[:3]


@dataclass(frozen=True)
class Tables:
    """The tables of a shop; empty where it has none."""

    garments: Named[Garment] = field(default_factory=Named)
    placements: Named[Place] = field(default_factory=Named)
    colours: "Named[NamedColour]" = field(default_factory=Named)


NO_TABLES = Tables()


def parse_named(kind: type[Entry], text: str, path: Path) -> Named[Entry]:
    """The table in TOML text that came from `path`. SettingsError names the line, the key, and what was expected."""
    entries: dict[str, Entry] = {}
    names: dict[str, str] = {}
    for name, values in settings_file.parse(text, path).items():
        entry = settings_file.validated(kind, values, text, path, within=(name,))
        entries[name] = entry
        for word in (name, *entry.also):
            known = names.setdefault(_folded(word), name)
            if known != name or not _folded(word):
                raise SettingsError(
                    f"Line {settings_file.line_of(text, (name,))}, key {name}: {word!r} is {_taken(known, name)}",
                    file=path,
                    next_step="Give each its own words and save",
                )
    return Named(entries, names)


def _taken(known: str, name: str) -> str:
    return "no word" if known == name else f"already a word for {known!r}"


def _folded(word: str) -> str:
    """A word as it is compared: compatible forms and capitals alike (Unicode NFKC and case folding), `-`, `_` and spaces too."""
    return re.sub(r"[\s_-]+", " ", unicodedata.normalize("NFKC", word).casefold()).strip()
