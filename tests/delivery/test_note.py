"""The note: what it says, that names cannot break it, that its data follow the shipped schema."""

import base64
import io
import json
import re
from datetime import UTC, datetime
from html.parser import HTMLParser
from importlib.resources import files
from pathlib import Path
from typing import Any

import jsonschema
import pytest
from PIL import Image

from filmhand.artwork.model import PrintedSize
from filmhand.delivery.note import BEFORE, DATA, PAGE, PICTURE, TEXT, Note, note_json, page_of, write_note
from filmhand.intake.ticket import Ticket
from filmhand.language import load_language
from filmhand.preflight.finding import Box, Finding, Severity
from filmhand.words import Phrase, Words

FINDINGS = (
    Finding("profile", Severity.NOTE, Words("The file does not say its colour space.")),
    Finding("resolution", Severity.WARN, Words("It has 199 pixels an inch."), Words("Send more."), 199.99, 200.0, "ppi"),
    Finding(
        "thin_line",
        Severity.REJECT,
        Words("Lines are thin."),
        Words("Widen them."),
        0.1999,
        0.2,
        "mm",
        (Box(0.1, 0.2, 0.3, 0.4),),
    ),
)
SCHEMA = json.loads((files("filmhand") / "schemas" / "note.schema.json").read_text("utf-8"))


def _picture(colour: str = "#123456") -> bytes:
    file = io.BytesIO()
    Image.new("RGB", (20, 10), colour).save(file, "PNG")
    return file.getvalue()


def _note(**changes: Any) -> Note:
    facts: dict[str, Any] = {
        "job": "0042-a1b2",
        "file": "crest.png",
        "shop": "/srv/our shop",
        "folder": "dark-garment",
        "rule_title": "Dark cotton",
        "verdict": Severity.REJECT,
        "ticket": Ticket.model_validate({"copies": 12, "width": "280 mm", "order": "A-17", "garment": "#1b1b1d"}),
        "size": PrintedSize(280.0, 211.337),
        "findings": FINDINGS,
        "sha256": "0123456789abcdef" * 4,
        "when": datetime(2025, 3, 4, 2, 7, 30, tzinfo=UTC),
    }
    return Note(**{**facts, **changes})


def _written(
    note: Note, folder: Path, picture: bytes | None = None, before: bytes | None = None
) -> tuple[str, str, dict[str, Any]]:
    write_note(note, folder, picture=picture, before=before)
    data = json.loads((folder / DATA).read_text("ascii"))
    return (folder / TEXT).read_text("utf-8"), (folder / PAGE).read_text("utf-8"), data


class _Page(HTMLParser):
    """Tags and text of a page."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tags: list[str] = []
        self.open_tags: list[str] = []
        self.links: list[str] = []
        self.words = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.links += [value or "" for name, value in attrs if name in ("src", "href", "srcset", "action")]
        if tag not in ("meta", "br", "img"):
            self.open_tags.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open_tags.pop() == tag

    def handle_data(self, data: str) -> None:
        self.words += data


def test_it_says_what_was_seen_and_what_to_do(tmp_path: Path) -> None:
    """In the text and on the page: the verdict, each finding with its advice, the order, the size."""
    text, page, _ = _written(_note(), tmp_path)
    for words in (" ".join(text.split()), " ".join(_Page(page).words.split())):
        for said in (
            "could not be printed",
            "crest.png",
            "Lines are thin.",
            "Widen them.",
            "Send more.",
            "A-17",
            "280 × 211 mm",
        ):
            assert said in words
        assert "filmhand release" not in words


@pytest.mark.parametrize(
    ("verdict", "said"),
    [
        (Severity.NOTE, "is printed"),
        (Severity.WARN, "Please read"),
        (Severity.HOLD, "waits for a decision"),
        (Severity.REJECT, "could not"),
    ],
)
def test_each_verdict_has_its_words(tmp_path: Path, verdict: Severity, said: str) -> None:
    """Printed, printed with remarks, held, rejected."""
    text, page, data = _written(_note(verdict=verdict), tmp_path)
    assert said in text
    assert said in _Page(page).words
    assert data["verdict"] == {0: "printed", 1: "printed with remarks", 2: "held", 3: "rejected"}[verdict]


def test_held_says_how_to_answer(tmp_path: Path) -> None:
    """Both commands, ready to be copied into a shell: the shop's path is quoted. And the folders that do the same."""
    text, page, _ = _written(_note(verdict=Severity.HOLD), tmp_path)
    for words in (text, _Page(page).words):
        assert "filmhand release '/srv/our shop' 0042-a1b2" in words
        assert "filmhand refuse '/srv/our shop' 0042-a1b2" in words
        assert re.search(r"folder\s+.release.\s+beside", words)


def test_worst_first_and_numbered_as_in_the_picture(tmp_path: Path) -> None:
    """Findings that are more than a note have numbers; notes come last, without."""
    text, page, data = _written(_note(), tmp_path, _picture())
    assert [(finding["number"], finding["check"]) for finding in data["findings"]] == [
        (1, "thin_line"),
        (2, "resolution"),
        (None, "profile"),
    ]
    assert text.index("1. Lines are thin.") < text.index("2. It has 199") < text.index("- The file does not say")
    assert page.index("Lines are thin.") < page.index("It has 199") < page.index("The file does not say")
    assert "marked in marked.png" in text


def test_values_are_rounded_for_reading_only(tmp_path: Path) -> None:
    """0.1999 mm is shown as 0.19, never as its limit of 0.2; the data keep every digit."""
    text, page, data = _written(_note(), tmp_path)
    for words in (text, page):
        assert "measured 0.19 mm, limit 0.2 mm" in words
        assert "measured 199 ppi, limit 200 ppi" in words
    assert data["findings"][0]["value"] == 0.1999
    assert data["printed"] == {"width_mm": 280.0, "height_mm": 211.337}


@pytest.mark.parametrize("verdict", list(Severity))
@pytest.mark.parametrize("size", [None, PrintedSize(10.5, 20.25)])
@pytest.mark.parametrize("picture", [None, _picture()])
def test_the_data_follow_the_schema(tmp_path: Path, verdict: Severity, size: PrintedSize | None, picture: bytes | None) -> None:
    """schemas/note.schema.json, itself a valid schema (JSON Schema 2020-12, by jsonschema)."""
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    ticket = Ticket.model_validate({"due": "2025-04-01T12:00:00+02:00"})
    *_, data = _written(_note(verdict=verdict, size=size, ticket=ticket), tmp_path, picture)
    jsonschema.validate(data, SCHEMA, format_checker=jsonschema.FormatChecker())
    assert data["picture"] == (None if picture is None else PICTURE)
    assert (tmp_path / PICTURE).exists() is (picture is not None)


def test_the_schema_refuses_what_is_not_a_note() -> None:
    """So that the test above means something."""
    good = note_json(_note(), has_picture=False)
    for change in ({"verdict": "maybe"}, {"sha256": "12"}, {"more": 1}, {"findings": [{"check": "x"}]}):
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate({**good, **change}, SCHEMA)


@pytest.mark.parametrize(
    "name",
    [
        "two\nlines.png",
        "<script>alert(1)</script>.png",
        '"><img src=x onerror=y>.png',
        "\x1b[2Jscreen.png",
        "\u202egnp.tpircs",
        "not\udcffutf8.png",
        "{{ 7 * 7 }}.png",
        "=cmd|' /C calc'!A0",
        "x" * 255,
        "",
    ],
)
def test_a_name_cannot_break_the_note(tmp_path: Path, name: str) -> None:
    """Escaped in HTML, one line in the text, valid in the data, whatever bytes it is made of."""
    text, page, data = _written(_note(file=name), tmp_path)
    (line,) = [line for line in text.splitlines() if line.startswith("File:")]
    assert line.isprintable()
    assert "\x1b" not in text + page
    assert "\u202e" not in text + page
    assert {"script", "img"}.isdisjoint(_Page(page).tags)
    assert "49.png" not in page
    jsonschema.validate(data, SCHEMA)


def test_a_ticket_cannot_break_the_note(tmp_path: Path) -> None:
    """What the customer wrote there is as foreign as a file name; a lone surrogate too, which JSON allows."""
    ticket = Ticket.model_construct(
        **{**dict(Ticket()), "order": "<b>1</b>\nVerdict: fine", "customer": "\ud800\x1b[31m", "placement": "\u202eleft"}
    )
    text, page, data = _written(_note(ticket=ticket), tmp_path)
    assert "\nVerdict: fine" not in text
    assert "b" not in _Page(page).tags
    assert "\x1b" not in text + page
    jsonschema.validate(data, SCHEMA)


def test_the_page_stands_alone(tmp_path: Path) -> None:
    """Valid nesting, no script, nothing fetched: the picture is inside, and is the one beside it."""
    _, page, _ = _written(_note(), tmp_path, _picture())
    parsed = _Page(page)
    assert not parsed.open_tags
    assert {"script", "link", "iframe", "form"}.isdisjoint(parsed.tags)
    (source,) = parsed.links
    assert source.startswith("data:image/png;base64,")
    assert base64.b64decode(source.split(",")[1]) == (tmp_path / PICTURE).read_bytes() == _picture()
    assert "url(" not in page
    assert 'name="viewport"' in page
    assert "prefers-color-scheme: dark" in page


def test_text_stays_within_a_mails_width(tmp_path: Path) -> None:
    """At most 76 characters a line, long words apart."""
    long = Finding(
        "x",
        Severity.WARN,
        Words("A sentence of many words that goes on and on " * 6),
        Words("And its advice goes on as well " * 6),
    )
    text, _, _ = _written(_note(findings=(*FINDINGS, long)), tmp_path)
    assert all(len(line) <= 76 or len(line.split()) <= 2 for line in text.splitlines())


def test_what_was_mended_is_shown_before_and_after(tmp_path: Path) -> None:
    """Both pictures in the page, that before first, and both beside it; the data and the text name them."""
    before = _picture("#fedcba")
    text, page, data = _written(_note(), tmp_path, _picture(), before)
    assert [base64.b64decode(link.split(",")[1]) for link in _Page(page).links] == [before, _picture()]
    assert (tmp_path / BEFORE).read_bytes() == before
    assert data["before"] == "before.png"
    assert "before.png shows your artwork as you sent it, marked.png as it would be printed." in " ".join(text.split())
    assert "As you sent it" in _Page(page).words
    assert "As it would be printed" in _Page(page).words
    jsonschema.validate(data, SCHEMA)


def test_what_was_not_mended_has_one_picture(tmp_path: Path) -> None:
    """And no word of a second."""
    text, page, data = _written(_note(), tmp_path, _picture())
    assert not (tmp_path / BEFORE).exists()
    assert data["before"] is None
    assert len(_Page(page).links) == 1
    assert "as you sent it" not in text
    assert "As you sent it" not in page


def test_the_page_may_be_had_alone(tmp_path: Path) -> None:
    """For a printed job it lies beside the original: the same page that a folder gets."""
    note = _note(verdict=Severity.WARN)
    _, page, _ = _written(note, tmp_path, _picture())
    assert page_of(note, picture=_picture()) == page
    assert "This file is printed. Please read what we noticed" in _Page(page).words


def test_the_shop_signs(tmp_path: Path) -> None:
    """In its own words, line by line, above the job's number; what it wrote is not taken for HTML."""
    text, page, _ = _written(_note(sender="Film & Faden <Druck>\nTel. 0123"), tmp_path)
    for words in (text, _Page(page).words):
        assert words.index("Film & Faden <Druck>\nTel. 0123") < words.index("Job 0042-a1b2")
    assert "druck" not in _Page(page).tags


def test_a_garment_is_called_by_its_name(tmp_path: Path) -> None:
    """Where it was ordered by that; with its colour."""
    ticket = Ticket.model_validate({"garment": "#1b1b1d", "garment_name": "Coal hoodie"})
    text, page, _ = _written(_note(ticket=ticket), tmp_path)
    assert "Coal hoodie (#1b1b1d)" in text
    assert "Coal hoodie (#1b1b1d)" in _Page(page).words


_WIDE = Phrase("The print is {width:.0f} × {height:.0f} mm; a sheet of film is at most {limit:.0f} mm long.")


@pytest.mark.parametrize(
    ("code", "said"),
    [
        ("de", ("Diese Datei konnte nicht gedruckt werden", "Der Druck misst 1 × 2", "Druckgröße", "0,19 mm", "4. März 2025")),
        (
            "es",
            (
                "Este archivo no se ha podido imprimir",
                "La impresión mide 1 × 2",
                "Tamaño impreso",
                "0,19 mm",
                "4 de marzo de 2025",
            ),
        ),
    ],
)
def test_all_of_it_is_in_the_shops_language(tmp_path: Path, code: str, said: tuple[str, ...]) -> None:
    """Headline, findings, labels, numbers and dates; what programs read stays as it is."""
    wide = Finding("film_fit", Severity.REJECT, _WIDE(width=1, height=2, limit=1), None, 0.1999, 0.2, "mm")
    note = _note(language=load_language(code, None), findings=(wide,))
    text, page, data = _written(note, tmp_path, _picture(), _picture())
    for words in (text, _Page(page).words):
        for one in said:
            assert one in words.replace("\xa0", " ")
        for english in ("print", "Printed", "Garment", "This file", "measured", "What", "March"):
            assert english not in words.replace("imprim", "")
    assert f'<html lang="{code}" dir="ltr">' in page
    assert data["language"] == code
    assert data["verdict"] == "rejected"
    assert said[1] in data["findings"][0]["message"]
    assert data["findings"][0]["value"] == 0.1999
    jsonschema.validate(data, SCHEMA)


def test_numbers_keep_their_units(tmp_path: Path) -> None:
    """No line of the page ends between 2 and mm; the text has plain spaces."""
    wide = Finding("film_fit", Severity.REJECT, _WIDE(width=1, height=2, limit=1))
    text, page, _ = _written(_note(findings=(wide,)), tmp_path)
    assert "1\xa0×\xa02\xa0mm; a sheet" in page
    assert "\xa0" not in text


def _luminance(colour: str) -> float:
    """WCAG 2.2, "relative luminance" (from memory)."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def _contrast(one: str, other: str) -> float:
    """WCAG 2.2, "contrast ratio" (from memory): 21 of black on white."""
    lighter, darker = sorted((_luminance(one), _luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_text_stands_out_in_both_themes() -> None:
    """At least 4.5 : 1 for every text on every ground it stands on, white numbers on their discs too (WCAG 2.2, 1.4.3)."""
    assert _contrast("#000000", "#ffffff") == pytest.approx(21)
    page = page_of(_note(), picture=None)
    light, dark = (dict(re.findall(r"--(\w+): (#\w+)", block)) for block in re.findall(r":root \{(.*?)\}", page, re.DOTALL))
    for theme in (light, {**light, **dark}):
        wide = {
            name: "#" + "".join(sign * 2 for sign in value[1:]) if len(value) == 4 else value for name, value in theme.items()
        }
        for ink in ("ink", "soft"):
            for ground in ("paper", "quiet"):
                assert _contrast(wide[ink], wide[ground]) >= 4.5, (ink, ground)
        for disc in ("warn", "hold", "reject"):
            assert _contrast("#ffffff", wide[disc]) >= 4.5, disc
