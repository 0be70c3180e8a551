"""Sentences for people: written in English where they belong, said in every language that has a catalogue. Pure.

A check keeps its sentences as `Phrase`s and fills them into `Words`; only whoever writes a note or a page turns these into text.
So what was found one night can be read in any language later. Catalogues are gettext's PO files (language.py reads them).
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from string import Formatter
from typing import Any, Final, NamedTuple, Self


class Numerals(NamedTuple):
    """How a language writes numbers: the decimal mark, and what parts thousands."""

    decimal: str
    group: str


ENGLISH_NUMERALS: Final = Numerals(".", ",")


@dataclass(frozen=True)
class Words:
    """A sentence and what fills its `{named}` places: text, numbers, or further words. `str()` says it in English."""

    text: str
    values: Mapping[str, Any] = field(default_factory=dict)

    def __str__(self) -> str:
        return said(self, translate=str, numerals=ENGLISH_NUMERALS)

    def to_json(self) -> dict[str, Any]:
        """Plain values for JSON."""
        plain = {key: value.to_json() if isinstance(value, Words) else value for key, value in self.values.items()}
        return {"text": self.text, "values": plain}

    @classmethod
    def from_json(cls, values: dict[str, Any] | str) -> Self:
        """The inverse of `to_json`. A bare string, as journals of version 1 hold it, is taken as it is."""
        if isinstance(values, str):
            return cls(values)
        inner = {key: cls.from_json(value) if isinstance(value, dict) else value for key, value in values["values"].items()}
        return cls(values["text"], inner)


@dataclass(frozen=True)
class Phrase:
    """A sentence of the catalogue: English, with `{named}` places as in format strings. Calling it fills them.

    Every Phrase in the code is written out where it is made, for catalogues are gathered from the source.
    """

    text: str

    def __call__(self, **values: Any) -> Words:
        return Words(self.text, values)


def said(words: Words, *, translate: Callable[[str], str], numerals: Numerals) -> str:
    """Words as text: the sentence and the words in it translated, numbers as the language writes them."""
    text = translate(words.text)
    return _Filler(translate, numerals).vformat(text, (), words.values) if words.values else text


class _Filler(Formatter):
    """Fills a sentence as `str.format` does, with words said and numerals of the language."""

    def __init__(self, translate: Callable[[str], str], numerals: Numerals) -> None:
        self._translate = translate
        self._numerals = numerals
        self._marks = str.maketrans({".": numerals.decimal, ",": numerals.group})

    def format_field(self, value: Any, format_spec: str) -> str:
        if isinstance(value, Words):
            return said(value, translate=self._translate, numerals=self._numerals)
        text = str(format(value, format_spec))
        return text.translate(self._marks) if isinstance(value, int | float) else text


def counted(number: int, one: str, many: str) -> str:
    """A number and what it counts, in English: for pages and lines that are the shop's own."""
    return f"{number} {one if number == 1 else many}"
