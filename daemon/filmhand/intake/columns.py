"""Which column of a spreadsheet says what: headings in English, German and Spanish, and the unit that a heading states. Pure."""

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from typing import Final

from filmhand.intake.cells import UNITS, plain
from filmhand.words import Phrase, Words

HEADINGS: Final[Mapping[str, tuple[str, ...]]] = {
    "file": ("file", "file name", "filename", "artwork", "Datei", "Dateiname", "Motiv", "archivo", "fichero", "diseño"),
    "copies": (
        "copies",
        "quantity",
        "qty",
        "Anzahl",
        "Stück",
        "Stueck",
        "Stückzahl",
        "Stueckzahl",
        "Menge",
        "copias",
        "cantidad",
    ),
    "width": ("width", "Breite", "ancho", "anchura"),
    "height": ("height", "Höhe", "Hoehe", "alto", "altura"),
    "placement": ("placement", "position", "Platzierung", "Druckposition", "posición", "ubicación"),
    "garment": ("garment", "garment colour", "garment color", "Textil", "Textilfarbe", "Kleidungsstück", "prenda"),
    "order": ("order", "order number", "order no", "Auftrag", "Auftragsnummer", "Auftragsnr", "Auftrags-Nr", "pedido"),
    "due": ("due", "due date", "deadline", "Termin", "Liefertermin", "fällig", "faellig", "entrega", "fecha de entrega"),
    "rush": ("rush", "express", "Eilauftrag", "Express", "urgente"),
    "customer": ("customer", "client", "contact", "Kunde", "Kundin", "Kontakt", "cliente", "contacto"),
    "language": ("language", "Sprache", "idioma"),
}
"""What a column may be called, by the key of the ticket that it fills. Capitals, accents and signs do not matter."""

_TWICE: Final = Phrase("the columns “{first}” and “{second}” say the same")
_ALIKE: Final = Phrase("the column “{written}” is not known; is “{meant}” meant?")
_LIKENESS: Final = 0.8
_MOST: Final = 200
"""Columns beyond these are not looked at."""
_WEIGHTY: Final = {"file", "copies", "width", "height", "placement", "garment"}
"""Columns that change what is printed."""


@dataclass(frozen=True)
class Column:
    """Its place from 0, its heading as written, and the unit that the heading states, or ""."""

    place: int
    heading: str
    unit: str


@dataclass(frozen=True)
class Columns:
    """The columns that are read, by ticket key; how many there are in all; and the headings of the others."""

    by_key: Mapping[str, Column]
    count: int
    others: tuple[str, ...]
    fault: Words | None
    """Why these columns cannot be relied on."""


def columns(cells: Sequence[str]) -> Columns:
    """The columns that a row of headings names."""
    by_key: dict[str, Column] = {}
    others: list[str] = []
    fault: Words | None = None
    cells = cells[:_MOST]
    for place, cell in enumerate(cells):
        heading = plain(cell)
        key, unit = _meaning(heading)
        if key in by_key:
            fault = fault or _TWICE(first=by_key[key].heading, second=heading)
        elif key:
            by_key[key] = Column(place, heading, unit)
        elif heading:
            others.append(heading)
    count = max((place + 1 for place, cell in enumerate(cells) if cell.strip()), default=0)
    return Columns(by_key, count, tuple(others), fault or _misspelt(others, by_key))


def _misspelt(others: Sequence[str], by_key: Mapping[str, Column]) -> Words | None:
    """A heading that looks like that of a column which is not there: an order would silently lose its width."""
    missing = [word for word, key in _KEYS.items() if key in _WEIGHTY - by_key.keys()]
    for heading in others:
        for word in get_close_matches(folded(heading), missing, n=1, cutoff=_LIKENESS):
            return _ALIKE(written=heading, meant=word)
    return None


def folded(heading: str) -> str:
    """A heading as it is compared: small letters without accents (Unicode NFKD), one space where signs stood."""
    letters = unicodedata.normalize("NFKD", heading.casefold())
    bare = "".join(sign for sign in letters if not unicodedata.combining(sign))
    return re.sub(r'[^\w"]+|_+', " ", bare).strip()


_KEYS: Final = {folded(word): key for key, words in HEADINGS.items() for word in words}


def _meaning(heading: str) -> tuple[str, str]:
    """The ticket key that a heading stands for and the unit that it states, each "" where there is none."""
    words = folded(heading)
    if words in _KEYS:
        return _KEYS[words], ""
    name, _, last = words.rpartition(" ")
    key = _KEYS.get(re.sub(r" (in|en)$", "", name), "")
    return (key, UNITS[last]) if last in UNITS and key in {"width", "height"} else ("", "")
