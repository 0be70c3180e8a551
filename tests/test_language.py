"""Languages: the catalogues that come with filmhand are whole, a shop's own lie over them, broken sentences are found at load."""

import importlib
import pkgutil
import re
import shutil
import subprocess
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime
from pathlib import Path

import pytest
from babel.messages.catalog import Catalog

from filmhand.errors import SettingsError
from filmhand.language import ENGLISH, SHIPPED, customers_language, fault_of, load_language, places, read_catalogue
from filmhand.sentences import gathered, main, merged, untranslated, written
from filmhand.words import Phrase

HOUSE = SHIPPED.parent
CODES = sorted(path.stem for path in SHIPPED.glob("*.po"))
DROPPED = "The PDF is locked with a password."
WHEN = datetime(2025, 3, 4, 14, 7, tzinfo=UTC)

Sentences = Mapping[str, tuple[str, ...]]


@pytest.fixture(scope="module")
def sentences() -> Sentences:
    """What the code says."""
    return gathered()


def _own(folder: Path, code: str, *pairs: tuple[str, str]) -> Path:
    """A shop's own catalogue."""
    lines = ['msgid ""', 'msgstr ""', '"Content-Type: text/plain; charset=utf-8\\n"', ""]
    for english, translated in pairs:
        lines += [f'msgid "{english}"', f'msgstr "{translated}"', ""]
    (folder / f"{code}.po").write_text("\n".join(lines), "utf-8")
    return folder


def test_german_and_spanish_come_with_filmhand() -> None:
    """The languages that are promised."""
    assert {"de", "es"} <= set(CODES)


@pytest.mark.parametrize("code", CODES)
def test_every_sentence_is_translated(code: str, sentences: Sentences) -> None:
    """Mend with `python -m filmhand.sentences`, which writes what is missing into the catalogue, empty."""
    missing = untranslated(read_catalogue(SHIPPED / f"{code}.po"), sentences)
    assert not missing, f"{code}.po does not say {len(missing)} sentences:\n" + "\n".join(missing)


@pytest.mark.parametrize("code", CODES)
def test_catalogues_say_nothing_that_the_code_does_not(code: str, sentences: Sentences) -> None:
    """What the code dropped is dropped: `python -m filmhand.sentences`."""
    assert {message.id for message in read_catalogue(SHIPPED / f"{code}.po") if message.id} - set(sentences) == set()


@pytest.mark.parametrize("code", CODES)
def test_every_translation_can_be_filled_in(code: str) -> None:
    """Its places are those of the English sentence, as many as it has."""
    catalogue = load_language(code, None).catalogue
    assert len(catalogue) > 100
    assert {
        english: fault_of(english, translated) for english, translated in catalogue.items() if fault_of(english, translated)
    } == {}


@pytest.mark.outside
@pytest.mark.parametrize("code", CODES)
def test_gettext_takes_the_catalogues(code: str) -> None:
    """GNU gettext's own check of header, quoting and places (msgfmt --check)."""
    program = shutil.which("msgfmt")
    if program is None:
        pytest.skip("msgfmt (Debian package gettext) is not installed")
    command = [program, "--check", "--output-file=/dev/null", str(SHIPPED / f"{code}.po")]
    checked = subprocess.run(command, capture_output=True, text=True, check=False)
    assert (checked.returncode, checked.stderr) == (0, "")


def test_sentences_are_gathered_from_code_and_templates(sentences: Sentences) -> None:
    """One that is written in two pieces, one without a name, one of a template, a unit."""
    found = sentences
    assert found["There is nothing in the picture that would print: all of it is transparent."] == ("preflight/empty.py",)
    assert "artwork/whole_png.py" in found["holds no picture"]
    assert found["The order"] == ("delivery/templates/note.html",)
    assert set(found["For the shop"]) == {"delivery/templates/note.html", "delivery/templates/note.txt"}
    assert "preflight/resolution.py" in found["ppi"]
    assert any(sentence.startswith("Fine parts come off in the wash. Please make") and "bolder" in sentence for sentence in found)


def test_every_phrase_that_the_modules_hold_is_gathered(sentences: Sentences) -> None:
    """Seen the other way: every module imported, the Phrases in it collected from its names."""
    for found in pkgutil.walk_packages([str(HOUSE)], "filmhand."):
        if not found.name.endswith("__main__"):
            held = {phrase.text for phrase in _phrases_in(list(vars(importlib.import_module(found.name)).values()))}
            assert held <= set(sentences), found.name


def _phrases_in(values: object) -> Iterator[Phrase]:
    if isinstance(values, Phrase):
        yield values
    elif isinstance(values, dict):
        yield from _phrases_in(list(values.values()))
    elif isinstance(values, list | tuple):
        for value in values:
            yield from _phrases_in(value)


def test_a_language_says_its_own_numbers_and_dates() -> None:
    """Decimal comma and point, and the months' names, as Unicode's CLDR has them (through Babel; values known to any speaker)."""
    words = Phrase("{count:,} at {size:.1f} mm")(count=12345, size=0.5)
    assert ENGLISH.say(words) == load_language("en", None).say(words) == "12,345 at 0.5 mm"
    assert load_language("de", None).say(words) == load_language("es", None).say(words) == "12.345 at 0,5 mm"
    assert load_language("es_MX", None).say(words) == "12,345 at 0.5 mm"
    assert ENGLISH.date(WHEN) == "4 March 2025, 14:07"
    assert load_language("en_US", None).date(WHEN).startswith("March 4, 2025")
    assert load_language("de", None).date(WHEN) == "4. März 2025, 14:07"
    assert load_language("es", None).date(WHEN) == "4 de marzo de 2025, 14:07"


def test_a_language_tells_html_what_it_is(tmp_path: Path) -> None:
    """BCP 47 tags have hyphens; Arabic is written from the right."""
    assert load_language("es-MX", None).tag == "es-MX"
    assert load_language("de", None).direction == "ltr"
    assert load_language("ar", _own(tmp_path, "ar")).direction == "rtl"


def test_a_region_speaks_its_language() -> None:
    """Austria has no catalogue of its own: it reads German."""
    assert load_language("de_AT", None).translate(DROPPED) == load_language("de", None).translate(DROPPED) != DROPPED


def test_a_shops_own_sentences_go_over_ours(tmp_path: Path) -> None:
    """The one it changes, and no other; and what nobody translated is said in English."""
    german = load_language("de", None)
    own = load_language("de", _own(tmp_path, "de", (DROPPED, "Ihr PDF ist abgeschlossen."), ("cannot be read", "")))
    assert own.translate(DROPPED) == "Ihr PDF ist abgeschlossen."
    assert own.translate("cannot be read") == german.translate("cannot be read")
    assert own.translate("Nobody said this.") == "Nobody said this."


def test_a_shop_adds_a_language(tmp_path: Path) -> None:
    """French by a file in its own folder; even English sentences it may put otherwise."""
    french = load_language("fr", _own(tmp_path, "fr", ("{percent:.1f} %", "{percent:.1f} %")))
    assert french.say(Phrase("{percent:.1f} %")(percent=0.5)) == "0,5 %"
    english = load_language("en", _own(tmp_path, "en", (DROPPED, "Unlock it.")))
    assert english.translate(DROPPED) == "Unlock it."


@pytest.mark.parametrize("code", ["tlh", "xx", "", "../de", "english", "fr", "de/../es"])
def test_a_language_that_nobody_speaks_is_refused(code: str) -> None:
    """With what there is, and how to add one."""
    with pytest.raises(SettingsError, match=r"de, en, es; or add one"):
        load_language(code, None)


def test_a_customer_is_spoken_to_in_their_language_if_we_can(tmp_path: Path) -> None:
    """Else in the shop's: a ticket can ask for anything, and one catalogue that broke since must not stop a note."""
    german = load_language("de", None)
    assert customers_language("es-AR", None, otherwise=german).tag == "es-AR"
    for code in (None, "tlh", "fr", "../../etc", "zh-Hant-TW-x-a"):
        assert customers_language(code, None, otherwise=german) is german
    own = _own(tmp_path, "es", ("{width:.0f} mm wide", "{ancho} mm"))
    assert customers_language("es", own, otherwise=german) is german


@pytest.mark.parametrize(
    ("translated", "why"),
    [
        ("{breite:.0f} mm", r"lacks \{width:\.0f\}; it has \{breite:\.0f\}"),
        ("breit", r"lacks \{width:\.0f\}"),
        ("{width:.0f} mm {more}", r"has \{more\} too much"),
        ("{width:d} mm", r"lacks \{width:\.0f\}; it has \{width:d\}"),
        ("{width:.0f mm", "braces"),
        ("width:.0f} mm", "braces"),
        ("{width:.0f} {width.real:.0f}", "width.real"),
    ],
)
def test_a_broken_translation_is_found_at_load(tmp_path: Path, translated: str, why: str) -> None:
    """Not at night, when a note is written. The message names file, line and sentence."""
    with pytest.raises(SettingsError, match=why) as caught:
        load_language("de", _own(tmp_path, "de", ("{width:.0f} mm wide", translated)))
    assert "{width:.0f} mm wide" in str(caught.value)
    assert "Line 5" in str(caught.value)
    assert str(tmp_path / "de.po") in str(caught.value)


@pytest.mark.parametrize("content", [b"\xff\xfe\x00", b'msgid "a"\nmsgstr "\xe4"\n', b'msgid ""\nnonsense here\n'])
def test_what_is_no_catalogue_is_refused(tmp_path: Path, content: bytes) -> None:
    """Not text, not UTF-8, not PO."""
    (tmp_path / "de.po").write_bytes(content)
    with pytest.raises(SettingsError, match=r"de\.po"):
        load_language("de", tmp_path)


def test_a_new_catalogue_has_every_sentence(tmp_path: Path, sentences: Sentences, capsys: pytest.CaptureFixture[str]) -> None:
    """Empty, so it says all in English; brought up to date again it is the same, byte by byte."""
    path = tmp_path / "languages" / "fr.po"
    main([str(path)])
    assert f"0 sentences translated, {len(sentences)} to translate" in capsys.readouterr().out
    assert untranslated(read_catalogue(path), sentences) == list(sentences)
    assert load_language("fr", path.parent).translate(DROPPED) == DROPPED
    once = path.read_bytes()
    main([str(path)])
    assert path.read_bytes() == once


@pytest.mark.parametrize("name", ["french.po", ".po", "fr fr.po"])
def test_a_new_catalogue_is_named_by_its_language(tmp_path: Path, name: str) -> None:
    """Else nothing is made."""
    with pytest.raises(SettingsError, match=r"such as fr\.po"):
        main([str(tmp_path / name)])
    assert list(tmp_path.iterdir()) == []


def test_the_example_in_the_documentation_is_read(tmp_path: Path) -> None:
    """The catalogue of docs/languages.md, as it stands there: its sentence is one of ours, and goes over it."""
    (example,) = re.findall(r"```po\n(.*?)```", (HOUSE.parents[1] / "docs" / "languages.md").read_text("utf-8"), re.DOTALL)
    (tmp_path / "de.po").write_text(example, "utf-8")
    assert load_language("de", tmp_path).translate(DROPPED) == "Ihr PDF ist mit einem Kennwort verschlossen."
    assert DROPPED in load_language("de", None).catalogue


def test_merging_keeps_what_is_translated_and_drops_what_is_gone(sentences: Sentences) -> None:
    """A translator's words and remarks stay."""
    catalogue = Catalog(locale="fr")
    catalogue.add(DROPPED, "Le PDF est protégé.", user_comments=["as our customers say"])
    catalogue.add("Nobody says this any more.", "Personne.")
    result = merged(catalogue, sentences)
    assert result.get(DROPPED).string == "Le PDF est protégé."
    assert result.get("Nobody says this any more.") is None
    assert b"as our customers say" in written(result)


def test_places_are_compared_with_how_numbers_are_written() -> None:
    """Order does not matter, nor how often."""
    assert places("{a:.1f} {b!r:>3} {{c}}") == {"{a:.1f}", "{b!r:>3}"}
    assert fault_of("{a:.1f} of {b}", "{b}: {a:.1f}, {b}") is None
