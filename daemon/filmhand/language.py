"""The language of what people read: its sentences from a catalogue, its numbers and dates. Loading reads files; saying is pure.

A catalogue is a gettext PO file: the English sentence, and under it the same in another language. Those in `languages/` come with
filmhand; those in a shop's own folder are laid over them, sentence by sentence. What is to be translated, sentences.py gathers.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from string import Formatter
from typing import Final

from babel import Locale, UnknownLocaleError
from babel.dates import format_date, format_time
from babel.messages.catalog import Catalog
from babel.messages.pofile import PoFileError, read_po
from babel.numbers import get_decimal_symbol, get_group_symbol

from filmhand.errors import SettingsError
from filmhand.words import ENGLISH_NUMERALS, Numerals, Words, said

SHIPPED: Final = Path(__file__).parent / "languages"

_SOURCE: Final = "en"
"""The language that sentences are written in: it needs no catalogue."""

_LOCALES: Final = {_SOURCE: "en_GB"}
"""Whose dates a bare code follows, where Unicode's data would choose others: English is not America's alone (that is `en_US`)."""


@dataclass(frozen=True)
class Language:
    """A language as gettext and Unicode's data call it ("de", "es_MX"). `catalogue`: English sentence → the language's."""

    code: str
    catalogue: Mapping[str, str] = field(default_factory=dict)
    numerals: Numerals = ENGLISH_NUMERALS

    @property
    def tag(self) -> str:
        """The code as HTML's `lang` has it (BCP 47)."""
        return self.code.replace("_", "-")

    @property
    def direction(self) -> str:
        """`ltr` or `rtl`, as HTML's `dir` has it."""
        return self._locale.text_direction

    def translate(self, text: str) -> str:
        """A sentence, its `{named}` places still open; in English where the catalogue does not have it."""
        return self.catalogue.get(text, text)

    def say(self, words: Words) -> str:
        """Words as text, numbers as the language writes them."""
        return said(words, translate=self.translate, numerals=self.numerals)

    def date(self, when: datetime) -> str:
        """Day and minute, the month as a word."""
        return f"{format_date(when, 'long', locale=self._locale)}, {format_time(when, 'short', locale=self._locale)}"

    @property
    def _locale(self) -> Locale:
        return Locale.parse(_LOCALES.get(self.code, self.code))


ENGLISH: Final = Language(_SOURCE)


def load_language(code: str, own_folder: Path | None) -> Language:
    """A language by its code, with the shop's own sentences over those that come with filmhand.

    Of `es_MX` those of `es` are read first. SettingsError where no catalogue is found, or a translation could not be filled in.
    """
    folders = [SHIPPED] if own_folder is None else [SHIPPED, own_folder]
    try:
        locale = Locale.parse(code.replace("-", "_"))
    except (ValueError, UnknownLocaleError):
        raise _unknown(code, folders) from None
    names = dict.fromkeys((locale.language, str(locale)))
    paths = [path for folder in folders for name in names if (path := folder / f"{name}.po").is_file()]
    if not paths and locale.language != _SOURCE:
        raise _unknown(code, folders)
    catalogue: dict[str, str] = {}
    for path in paths:
        catalogue |= _sentences(path)
    customs = _LOCALES.get(str(locale), str(locale))
    return Language(str(locale), catalogue, Numerals(get_decimal_symbol(customs), get_group_symbol(customs)))


def customers_language(code: str | None, own_folder: Path | None, *, otherwise: Language) -> Language:
    """The language that a ticket asks for, or the shop's (`otherwise`) where we cannot speak it: a note is always written."""
    if code is None:
        return otherwise
    try:
        return load_language(code, own_folder)
    except SettingsError:
        return otherwise


def read_catalogue(path: Path) -> Catalog:
    """A PO file. SettingsError says where it is none."""
    try:
        with path.open("rb") as file:
            return read_po(file, abort_invalid=True)
    except PoFileError as problem:
        what = f"Line {problem.lineno + 1}, this is no PO file: {problem}"
    except (OSError, ValueError, LookupError) as problem:
        what = f"This catalogue of sentences cannot be read: {problem}"
    raise SettingsError(what, file=path, next_step="Mend that and save as UTF-8; docs/languages.md shows how it is written")


def places(sentence: str) -> frozenset[str]:
    """The `{named}` places of a sentence, each with how its number is written. ValueError where the braces do not match."""
    return frozenset(_place(name, spec, how) for _, name, spec, how in Formatter().parse(sentence) if name is not None)


def _place(name: str, spec: str | None, conversion: str | None) -> str:
    return "{" + name + (f"!{conversion}" if conversion else "") + (f":{spec}" if spec else "") + "}"


def fault_of(english: str, translated: str) -> str | None:
    """Why a translation could not be filled in, as a sentence; None if it can."""
    try:
        wanted, found = places(english), places(translated)
    except ValueError:
        return "its braces do not match"
    if wanted == found:
        return None
    missing, foreign = ", ".join(sorted(wanted - found)), ", ".join(sorted(found - wanted))
    return "; ".join(part for part in (missing and f"it lacks {missing}", foreign and f"it has {foreign} too much") if part)


def _sentences(path: Path) -> dict[str, str]:
    """What a catalogue translates; what is empty or marked as unsure (fuzzy) is left out."""
    found: dict[str, str] = {}
    for message in read_catalogue(path):
        english, translated = message.id, message.string
        if not (isinstance(english, str) and isinstance(translated, str) and english and translated) or message.fuzzy:
            continue
        if fault := fault_of(english, translated):
            raise SettingsError(
                f"Line {message.lineno}, the translation of “{english}” cannot be used: {fault}",
                file=path,
                next_step="Write the places in braces exactly as the English sentence has them",
            )
        found[english] = translated
    return found


def _unknown(code: str, folders: Iterable[Path]) -> SettingsError:
    known = sorted({_SOURCE, *(path.stem for folder in folders for path in folder.glob("*.po"))})
    return SettingsError(
        f"There are no sentences in the language {code!r}",
        next_step=f"In shop.toml, set language to one of: {', '.join(known)}; or add one, as docs/languages.md shows",
    )
