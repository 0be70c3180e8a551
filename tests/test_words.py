"""Sentences that are kept unsaid: filling them, their numerals, and their way through JSON."""

import json

import pytest

from filmhand.words import ENGLISH_NUMERALS, Numerals, Phrase, Words, said

GERMAN = Numerals(",", ".")


@pytest.mark.parametrize(("value", "spec"), [(0.4, ".2g"), (1234567, ","), (12.345, ".1f"), (-3, ""), (True, "")])
def test_english_says_numbers_as_python_formats_them(value: float, spec: str) -> None:
    """Python's own `format` is the judge."""
    assert str(Phrase("{value:" + spec + "} mm")(value=value)) == f"{format(value, spec)} mm"


def test_marks_change_in_numbers_alone() -> None:
    """1,234,567.5 is 1.234.567,5 in German; stops and commas of a text that is filled in stay."""
    words = Phrase("{name}: {count:,.1f}, done.")(name="a,b.png", count=1234567.5)
    assert said(words, translate=str, numerals=GERMAN) == "a,b.png: 1.234.567,5, done."
    assert said(words, translate=str, numerals=ENGLISH_NUMERALS) == "a,b.png: 1,234,567.5, done."


def test_words_within_words_are_translated() -> None:
    """The sentence and what is filled into it, each by its own English text; plain text is not."""
    german = {
        "This is {what}, {name}.": "Das ist {what}, {name}.",
        "a {size:.1f} mm dot": "ein Punkt von {size:.1f} mm",
        "dot": "Punkt",
    }
    words = Phrase("This is {what}, {name}.")(what=Phrase("a {size:.1f} mm dot")(size=0.5), name="dot")
    assert said(words, translate=lambda text: german.get(text, text), numerals=GERMAN) == "Das ist ein Punkt von 0,5 mm, dot."


def test_what_is_filled_in_is_never_a_sentence_itself() -> None:
    """A customer's file name with braces is text, and so is a whole sentence that has no values."""
    assert str(Phrase("As {file}.")(file="{0.__class__}.png")) == "As {0.__class__}.png."
    assert str(Words("{as it is}")) == "{as it is}"


def test_words_come_back_from_json_as_they_were() -> None:
    """The journal's way; a bare string of an older journal is a sentence without values."""
    words = Phrase("{what} at {ppi:.0f}")(what=Phrase("the picture")(), ppi=99.5)
    assert Words.from_json(json.loads(json.dumps(words.to_json()))) == words
    assert str(Words.from_json("As it was.")) == "As it was."
