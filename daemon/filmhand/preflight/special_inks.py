"""Spot colours of a PDF by their names: inks that are not printed here, white plates, cutting lines, and ordinary ones."""

import re
import unicodedata
from collections.abc import Iterable
from enum import Enum
from typing import Final

from filmhand.artwork.model import Artwork, PrintedSize
from filmhand.artwork.pdf_facts import listed
from filmhand.preflight.finding import Finding, Severity, passed_above
from filmhand.rules import Printer, Rule
from filmhand.words import Phrase

NAME: Final = "special_inks"


class Spot(Enum):
    """What a spot colour's name says that it is."""

    ORDINARY = "ordinary"
    SPECIAL = "special"
    """Metal, neon, varnish, foil, glitter: no mixture of printing inks looks like it."""
    WHITE = "white"
    CUT = "cut"


# Whole words, and beginnings of words (with a hyphen), in English, German, Spanish and French, lower case without accents:
# common practice, no source.
_SPECIAL: Final = (
    *("gold", "oro", "dorado", "or", "dore", "silver", "silber", "plata", "plateado", "argent", "argente"),
    *("bronze", "bronce", "copper", "kupfer", "cobre", "cuivre", "chrome", "chrom", "cromo", "metal-"),
    *("neon-", "fluo-", "leucht-", "nachleucht-", "phosph-", "fosfor-", "glow"),
    *("uv", "spotuv", "varnish-", "lack", "lacke", "barniz-", "vernis", "lacquer", "laca", "coating"),
    *("emboss-", "prage-", "pragung-", "relief", "foil-", "folie-", "stamping"),
    *("glitter-", "glimmer-", "purpurina", "paillet-", "brillantina", "reflective", "reflectante", "reflektierend"),
)
_WHITE: Final = ("white", "whiteink", "weiss", "weisse", "blanco", "blanca", "blanc", "blanche", "underbase", "unterdruck")
_CUT: Final = (
    *("cut", "cutting", "cutcontour", "cutline", "thrucut", "kisscut", "die", "dieline", "diecut", "crease", "fold", "perf-"),
    *("stanz-", "schnitt-", "rill-", "falz-", "troquel-", "corte", "plegado", "decoupe", "coupe", "pliage"),
)
_NOT_WHITE: Final = frozenset({"off"})

_NUMBERED: Final = re.compile(r"(?:pantone|pms)\D{0,4}(87[1-7]|8\d{3}|80[1-9]|81[0-4])(?!\d)")
"""Colour-library numbers of metallic (871 to 877, 8001 on) and neon inks (801 to 814), from memory."""

_COMPOUND: Final = re.compile(r"(?<!b)lack$|folie$|foil$")  # German puts the kind last: Effektlack, Goldfolie.
_CAMEL: Final = re.compile(r"(?<=[a-z])(?=[A-Z])")
_WORDS: Final = re.compile(r"[^\W\d_]+")

_SEEN: Final = Phrase("The PDF uses inks that are not printed here: {names}. They would come out as a flat, plain colour.")
_ADVICE: Final = Phrase(
    "Metal, neon, varnish, foil and glitter cannot be mixed from printing inks. Please choose plain colours in their place, "
    "or tell us that plain ones will do."
)
_PLATE: Final = Phrase("The PDF holds a white ink of its own ({names}). It would be printed as a colour.")
_PLATE_ADVICE: Final = Phrase(
    "The white under the colours is made here. Please take that ink out, draw what is to be seen white in plain white, and leave "
    "the rest transparent."
)
_LINES: Final = Phrase("The PDF holds lines for cutting or folding ({names}). They would be printed.")
_LINES_ADVICE: Final = Phrase("Please take these lines out and send it again.")
_PLAIN: Final = Phrase("Spot colours are printed by the mixture that the PDF gives for them: {names}.")

_SAID: Final = {Spot.SPECIAL: (_SEEN, _ADVICE), Spot.WHITE: (_PLATE, _PLATE_ADVICE), Spot.CUT: (_LINES, _LINES_ADVICE)}


def check(artwork: Artwork, size: PrintedSize, *, rule: Rule, printer: Printer) -> tuple[Finding, ...]:  # noqa: ARG001 -- alike
    """Special inks, white plates and cutting lines, each kind's number against the rule's `special_inks`; other spots a note."""
    spots = artwork.pdf.spots if artwork.pdf is not None else ()
    kinds = {spot: kind_of_spot(spot) for spot in spots}
    findings = []
    for kind, (message, advice) in _SAID.items():
        names = [spot for spot in spots if kinds[spot] is kind]
        passed = passed_above(rule.preflight.special_inks, len(names))
        if names and passed is not None:
            severity, limit = passed
            findings.append(Finding(NAME, severity, message(names=listed(names)), advice(), float(len(names)), limit, "inks"))
    ordinary = [spot for spot in spots if kinds[spot] is Spot.ORDINARY]
    if ordinary:
        findings.append(Finding(NAME, Severity.NOTE, _PLAIN(names=listed(ordinary))))
    return tuple(findings)


def kind_of_spot(name: str) -> Spot:
    """What a spot colour is by its name. White foil is foil, and a white cutting line a cutting line."""
    plain = "".join(
        letter for letter in unicodedata.normalize("NFKD", _CAMEL.sub(" ", name)) if not unicodedata.combining(letter)
    ).casefold()
    words = set(_WORDS.findall(plain))
    if _has(words, _CUT):
        return Spot.CUT
    if _has(words, _SPECIAL) or _NUMBERED.search(plain) or any(_COMPOUND.search(word) for word in words):
        return Spot.SPECIAL
    return Spot.WHITE if _has(words, _WHITE) and not words & _NOT_WHITE else Spot.ORDINARY


def _has(words: Iterable[str], known: tuple[str, ...]) -> bool:
    whole = {word for word in known if not word.endswith("-")}
    beginnings = tuple(word[:-1] for word in known if word.endswith("-"))
    return any(word in whole or word.startswith(beginnings) for word in words)
