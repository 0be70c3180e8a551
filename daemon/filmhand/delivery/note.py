"""The note on a file, for a customer who is no expert: note.txt, note.html, note.json, marked.png and, if mended, before.png.

Sentences of the note itself stand here and in templates/note.html and templates/note.txt; those of findings in preflight/.
"""

import base64
import json
import math
import re
import shlex
import textwrap
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Final, NamedTuple

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape
from markupsafe import Markup

from filmhand.artwork.model import PrintedSize
from filmhand.intake.ticket import Ticket
from filmhand.journal.records import shown
from filmhand.language import ENGLISH, Language
from filmhand.preflight.finding import Finding, Severity, numbered
from filmhand.words import Phrase, Words

TEXT: Final = "note.txt"
PAGE: Final = "note.html"
DATA: Final = "note.json"
PICTURE: Final = "marked.png"
BEFORE: Final = "before.png"
SCHEMA: Final = 2
"""Version of note.json, described by schemas/note.schema.json. 2 says the language, and the picture before mending."""

_VERDICTS: Final = {
    Severity.NOTE: Phrase("printed"),
    Severity.WARN: Phrase("printed with remarks"),
    Severity.HOLD: Phrase("held"),
    Severity.REJECT: Phrase("rejected"),
}
"""In note.json in English, whatever the language: programs read it."""

_HEADLINES: Final = {
    Severity.NOTE: Phrase("This file is printed"),
    Severity.WARN: Phrase("This file is printed. Please read what we noticed"),
    Severity.HOLD: Phrase("This file waits for a decision before it is printed"),
    Severity.REJECT: Phrase("This file could not be printed"),
}
_KIND, _SIZE, _COPIES = Phrase("Kind of work"), Phrase("Printed size"), Phrase("Copies")
_GARMENT, _PLACEMENT, _ORDER = Phrase("Garment"), Phrase("Placement"), Phrase("Order")
_CUSTOMER, _DUE = Phrase("Customer"), Phrase("Due")
_MM: Final = Phrase("{width:.0f} × {height:.0f} mm")
_MEASURED: Final = Phrase("measured {value:g} {unit}, limit {limit:g} {unit}")
_DECIMALS: Final = {"mm": 2, "%": 1}
_LINE: Final = 76
_NO_BREAK: Final = "\xa0"
_BETWEEN: Final = re.compile(r"(?<=\d) (?=(?:mm|MB|ppi|ppp|%|×)(?!\w))|(?<=\d ×) (?=\d)")


@dataclass(frozen=True)
class Note:
    """All that a note says. `file`: the name as the customer sent it, whatever is in it. `shop`: the shop's folder, as a path.

    `sender`: who writes, and how to reach them, in the shop's own words; stands at the note's foot.
    """

    job: str
    file: str
    shop: str
    folder: str
    rule_title: str
    verdict: Severity
    ticket: Ticket
    size: PrintedSize | None
    findings: tuple[Finding, ...]
    sha256: str
    when: datetime
    language: Language = ENGLISH
    sender: str = ""


class _Fact(NamedTuple):
    """A line of what is ordered. `swatch`: a colour to show beside it."""

    label: str
    value: str
    swatch: str = ""


def write_note(note: Note, folder: Path, *, picture: bytes | None, before: bytes | None = None) -> None:
    """Write the note into an existing folder, with the marked picture and that before mending (PNGs) if there are such.

    OSError as the disk says.
    """
    (folder / TEXT).write_text(_text(note, picture, before), "utf-8")
    (folder / PAGE).write_text(page_of(note, picture=picture, before=before), "utf-8")
    data = note_json(note, has_picture=picture is not None, has_before=before is not None)
    (folder / DATA).write_text(json.dumps(data, indent=2) + "\n", "ascii")
    for name, png in ((PICTURE, picture), (BEFORE, before)):
        if png is not None:
            (folder / name).write_bytes(png)


def page_of(note: Note, *, picture: bytes | None, before: bytes | None = None) -> str:
    """The note as a page of HTML that stands alone, its pictures (PNGs) inside."""
    inline = {"picture": _inline(picture), "before": _inline(before)}
    return _templates(note.language).get_template(PAGE).render(_facts(note, picture, before), **inline)


def note_json(note: Note, *, has_picture: bool, has_before: bool = False) -> dict[str, Any]:
    """The note as plain values; measured values are not rounded."""
    return {
        "schema": SCHEMA,
        "language": note.language.tag,
        "job": note.job,
        "file": shown(note.file),
        "sha256": note.sha256,
        "hot_folder": note.folder,
        "rule": note.rule_title,
        "verdict": str(_VERDICTS[note.verdict]()),
        "when": note.when.isoformat(timespec="seconds"),
        "ordered": _ordered(note.ticket),
        "printed": None if note.size is None else {"width_mm": note.size.width_mm, "height_mm": note.size.height_mm},
        "findings": [{"number": number, **_said(finding, note.language)} for number, finding in numbered(note.findings)],
        "picture": PICTURE if has_picture else None,
        "before": BEFORE if has_before else None,
    }


def _said(finding: Finding, language: Language) -> dict[str, Any]:
    """A finding's plain values, its words said."""
    advice = "" if finding.advice is None else language.say(finding.advice)
    return {**finding.to_json(), "message": language.say(finding.message), "advice": advice}


def _ordered(ticket: Ticket) -> dict[str, Any]:
    """What the ticket says; what it does not say is null."""
    return {
        "copies": ticket.copies,
        "width_mm": ticket.width,
        "height_mm": ticket.height,
        "order": ticket.order,
        "garment": ticket.garment,
        "placement": ticket.placement,
        "due": None if ticket.due is None else ticket.due.isoformat(),
        "customer": ticket.customer,
    }


def _facts(note: Note, picture: bytes | None, before: bytes | None) -> dict[str, Any]:
    """What both templates are filled with."""
    findings = numbered(note.findings)
    return {
        "note": note,
        "language": note.language,
        "file": shown(note.file),
        "verdict": _VERDICTS[note.verdict](),
        "headline": _HEADLINES[note.verdict](),
        "order": tuple(_order(note)),
        "when": note.language.date(note.when),
        "remarks": [(number, finding) for number, finding in findings if number is not None],
        "asides": [finding for number, finding in findings if number is None],
        "is_marked": picture is not None and any(finding.where for _, finding in findings),
        "is_mended": picture is not None and before is not None,
        "release": shlex.join(("filmhand", "release", note.shop, note.job)),
        "refuse": shlex.join(("filmhand", "refuse", note.shop, note.job)),
    }


def _order(note: Note) -> Iterator[_Fact]:
    """What is ordered, as far as anybody said it."""
    ticket, say = note.ticket, note.language.say
    yield _Fact(say(_KIND()), note.rule_title)
    if note.size is not None:
        yield _Fact(say(_SIZE()), say(_MM(width=note.size.width_mm, height=note.size.height_mm)))
    if ticket.copies is not None:
        yield _Fact(say(_COPIES()), str(ticket.copies))
    if ticket.garment is not None:
        name = f"{ticket.garment_name} ({ticket.garment})" if ticket.garment_name else ticket.garment
        yield _Fact(say(_GARMENT()), name, ticket.garment)
    for label, value in ((_PLACEMENT, ticket.placement), (_ORDER, ticket.order), (_CUSTOMER, ticket.customer)):
        if value:
            yield _Fact(say(label()), value)
    if ticket.due is not None:
        yield _Fact(say(_DUE()), note.language.date(ticket.due))


def _text(note: Note, picture: bytes | None, before: bytes | None) -> str:
    names = {"picture": PICTURE, "before": BEFORE}
    return _templates(note.language).get_template(TEXT).render(_facts(note, picture, before), **names)


def _inline(picture: bytes | None) -> str | None:
    return None if picture is None else base64.b64encode(picture).decode("ascii")


def _templates(language: Language) -> Environment:
    """Templates that say their sentences, `_("…")`, in a language, and escape what they are given where they make HTML."""
    templates = Environment(
        loader=PackageLoader("filmhand.delivery"),
        autoescape=select_autoescape(("html",)),
        undefined=StrictUndefined,
        finalize=_legible,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    templates.globals["_"] = lambda sentence, **values: _bound(language.say(Words(sentence, values)))
    templates.filters.update(
        say=lambda words: _bound(language.say(words)),
        measured=lambda finding: _measured(finding, language),
        word=lambda severity: severity.name.lower(),
        wrapped=_wrapped,
    )
    return templates


def _legible(value: Any) -> Any:
    """What a template prints, without signs that would steer a terminal, turn the reading direction or not be valid text."""
    if not isinstance(value, str) or value.isprintable():
        return value
    text = value.encode("utf-8", "replace").decode()
    legible = "".join(sign if _is_harmless(sign) else sign.encode("unicode_escape").decode() for sign in text)
    return Markup(legible) if isinstance(value, Markup) else legible


def _is_harmless(sign: str) -> bool:
    """Spaces of all kinds are: languages part numbers and units with them."""
    return sign.isprintable() or sign == "\n" or unicodedata.category(sign) == "Zs"


def _bound(text: str) -> str:
    """Text in which no line ends between a number and its unit."""
    return _BETWEEN.sub(_NO_BREAK, text)


def _wrapped(text: str, indent: int = 0) -> str:
    """Text in lines for a mail or a terminal; later lines are indented."""
    lines = textwrap.fill(text, _LINE, subsequent_indent=" " * indent, break_long_words=False, break_on_hyphens=False)
    return lines.replace(_NO_BREAK, " ")


def _measured(finding: Finding, language: Language) -> str:
    """Value and limit for reading, the value rounded away from the limit that it passed; empty if nothing was measured."""
    if finding.value is None or finding.limit is None or not finding.unit:
        return ""
    scale = 10 ** _DECIMALS.get(finding.unit, 0)
    cut = math.floor if finding.value < finding.limit else math.ceil
    # One part in a billion: so that 0.29 × 100, which is 28.999999999999996, is cut to 29.
    value = cut(finding.value * scale * (1 + math.copysign(1e-9, finding.limit - finding.value))) / scale
    return language.say(_MEASURED(value=value, limit=finding.limit, unit=Words(finding.unit)))
