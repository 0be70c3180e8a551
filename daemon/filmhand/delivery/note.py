"""The note beside a held or rejected file: note.txt, note.html, note.json and marked.png, for a customer who is no expert.

All sentences of the note itself stand in templates/note.html and templates/note.txt; those of findings in preflight/.
"""

import base64
import json
import math
import shlex
import textwrap
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from jinja2 import Environment, PackageLoader, StrictUndefined, select_autoescape
from markupsafe import Markup

from filmhand.artwork.model import PrintedSize
from filmhand.intake.ticket import Ticket
from filmhand.journal.records import shown
from filmhand.preflight.finding import Finding, Severity, numbered

TEXT: Final = "note.txt"
PAGE: Final = "note.html"
DATA: Final = "note.json"
PICTURE: Final = "marked.png"
SCHEMA: Final = 1
"""Version of note.json, described by schemas/note.schema.json."""

_VERDICTS: Final = {
    Severity.NOTE: "printed",
    Severity.WARN: "printed with remarks",
    Severity.HOLD: "held",
    Severity.REJECT: "rejected",
}
_DECIMALS: Final = {"mm": 2, "%": 1}
_LINE: Final = 76


@dataclass(frozen=True)
class Note:
    """All that a note says. `file`: the name as the customer sent it, whatever is in it. `shop`: the shop's folder, as a path."""

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


def write_note(note: Note, folder: Path, *, picture: bytes | None) -> None:
    """Write the note into an existing folder, and the marked picture (a PNG) if there is one. OSError as the disk says."""
    facts = _facts(note, picture)
    (folder / TEXT).write_text(_text(note, facts), "utf-8")
    (folder / PAGE).write_text(_page(note, facts, picture), "utf-8")
    (folder / DATA).write_text(json.dumps(note_json(note, has_picture=picture is not None), indent=2) + "\n", "ascii")
    if picture is not None:
        (folder / PICTURE).write_bytes(picture)


def note_json(note: Note, *, has_picture: bool) -> dict[str, Any]:
    """The note as plain values; measured values are not rounded."""
    return {
        "schema": SCHEMA,
        "job": note.job,
        "file": shown(note.file),
        "sha256": note.sha256,
        "hot_folder": note.folder,
        "rule": note.rule_title,
        "verdict": _VERDICTS[note.verdict],
        "when": note.when.isoformat(timespec="seconds"),
        "ordered": _ordered(note.ticket),
        "printed": None if note.size is None else {"width_mm": note.size.width_mm, "height_mm": note.size.height_mm},
        "findings": [{"number": number, **_said(finding)} for number, finding in numbered(note.findings)],
        "picture": PICTURE if has_picture else None,
    }


def _said(finding: Finding) -> dict[str, Any]:
    """A finding's plain values, its words said."""
    return {**finding.to_json(), "message": str(finding.message), "advice": str(finding.advice or "")}


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


def _facts(note: Note, picture: bytes | None) -> dict[str, Any]:
    """What both templates are filled with."""
    findings = numbered(note.findings)
    return {
        "note": note,
        "file": shown(note.file),
        "verdict": _VERDICTS[note.verdict],
        "remarks": [(number, finding) for number, finding in findings if number is not None],
        "asides": [finding for number, finding in findings if number is None],
        "is_marked": picture is not None and any(finding.where for _, finding in findings),
        "release": shlex.join(("filmhand", "release", note.shop, note.job)),
        "refuse": shlex.join(("filmhand", "refuse", note.shop, note.job)),
    }


def _text(note: Note, facts: dict[str, Any]) -> str:
    return _templates().get_template(TEXT).render(facts, when=_when(note))


def _page(note: Note, facts: dict[str, Any], picture: bytes | None) -> str:
    inline = None if picture is None else base64.b64encode(picture).decode("ascii")
    return _templates().get_template(PAGE).render(facts, when=_when(note), picture=inline)


def _when(note: Note) -> str:
    return f"{note.when.day} {note.when:%B %Y, %H:%M}"


def _templates() -> Environment:
    """Templates that escape what they are given where they make HTML."""
    templates = Environment(
        loader=PackageLoader("filmhand.delivery"),
        autoescape=select_autoescape(("html",)),
        undefined=StrictUndefined,
        finalize=_legible,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    templates.filters.update(measured=_measured, word=_word, wrapped=_wrapped)
    return templates


def _legible(value: Any) -> Any:
    """What a template prints, without signs that would steer a terminal, turn the reading direction or not be valid text."""
    if not isinstance(value, str) or value.isprintable():
        return value
    text = value.encode("utf-8", "replace").decode()
    legible = "".join(sign if sign.isprintable() or sign == "\n" else sign.encode("unicode_escape").decode() for sign in text)
    return Markup(legible) if isinstance(value, Markup) else legible


def _word(severity: Severity) -> str:
    return severity.name.lower()


def _wrapped(text: str, indent: int = 0) -> str:
    """Text in lines for a mail or a terminal; later lines are indented."""
    return textwrap.fill(text, _LINE, subsequent_indent=" " * indent, break_long_words=False, break_on_hyphens=False)


def _measured(finding: Finding) -> str:
    """Value and limit for reading, the value rounded away from the limit that it passed; empty if nothing was measured."""
    if finding.value is None or finding.limit is None or not finding.unit:
        return ""
    scale = 10 ** _DECIMALS.get(finding.unit, 0)
    cut = math.floor if finding.value < finding.limit else math.ceil
    # One part in a billion: so that 0.29 × 100, which is 28.999999999999996, is cut to 29.
    value = cut(finding.value * scale * (1 + math.copysign(1e-9, finding.limit - finding.value))) / scale
    return f"measured {value:g} {finding.unit}, limit {finding.limit:g} {finding.unit}"
