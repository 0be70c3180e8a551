"""Naming the ink model in the printer file: tomllib, Python's own reader, says what the file means before and after."""

import json
import tomllib
from importlib.resources import files
from itertools import takewhile

import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmhand.cli.name_profile import with_profile

STARTER = (files("filmhand") / "templates" / "printer.toml").read_text("utf-8")
REMARKS = ["", "# plain", '# profile = "shown.icc"  # how it is written', "   ", "\t# [not a table]", 'profiles = "other"']
ENTRIES = [
    'film_width = "600 mm"',
    "bits = 1   # dots",
    'inks = ["C", "M",\n  "Y", # profile = "no.icc"\n "W"]',
    'note = """\nprofile = "within.icc"\n[table]\n"""',
    "other = '''\nprofile = \"x\"'''",
    'name = "a # [b] \\" profile = 3"',
]
LINES = ['profile = "a.icc"', "profile='a b.icc' # mine", '  "profile"  =  "\\u0061.icc"', 'profile = """x.icc"""']
TABLES = ["[drop_pl]\ndefault = 7.0", '[[case]]\nprofile = "inner.icc"', '  [price] # costs\nprofile = "priced.icc"', ""]


@st.composite
def _texts(draw: st.DrawFn) -> str:
    """Printer files in every manner: with the line or without, with remarks, with tables that have one of that name."""
    entries = draw(st.lists(st.sampled_from(ENTRIES), unique_by=lambda entry: entry.split("=")[0]))
    lines = [
        *draw(st.lists(st.sampled_from(REMARKS[:-1]), max_size=4)),
        *entries,
        *draw(st.lists(st.sampled_from(LINES), max_size=1)),
    ]
    lines = draw(st.permutations(lines))
    tables = draw(st.lists(st.sampled_from(TABLES), unique=True, max_size=3))
    end = draw(st.sampled_from(["\n", "\r\n"]))
    text = "\n".join([*lines, *tables]) + draw(st.sampled_from(["", "\n", "\n\n"]))
    return draw(st.sampled_from(["", "\ufeff"])) + text.replace("\n", end)


@given(text=_texts(), name=st.sampled_from(["house.inks", "my house.inks", 'the "new".inks', "Käthe\\1.inks"]))
def test_only_the_line_changes(text: str, name: str) -> None:
    """What the file says is the same but for the profile; what stood there before is there still, in order, byte for byte."""
    result = with_profile(text, name)
    before, after = (tomllib.loads(one.removeprefix("\ufeff")) for one in (text, result))
    assert after == {**before, "profile": name}
    same = _alike(text, result)
    tail = min(_alike(text[::-1], result[::-1]), len(text) - same, len(result) - same)
    removed, added = text[same : len(text) - tail], result[same : len(result) - tail]
    if "profile" in before:
        assert "profile" in text[:same].splitlines()[-1]
        assert len([*removed.splitlines(), *added.splitlines()]) <= 2
    else:
        assert removed == ""
        assert added.count("\n") == 1
        assert len(added.strip()) == len(f"profile = {json.dumps(name, ensure_ascii=False)}")


def _alike(one: str, other: str) -> int:
    """How many signs are the same from the start on."""
    return sum(1 for _ in takewhile(lambda pair: pair[0] == pair[1], zip(one, other, strict=False)))


def test_the_starter_file_gets_its_line_below_the_remark() -> None:
    """A person finds it where the file shows how it is written; once more, and only the name changes."""
    once = with_profile(STARTER, "mine.inks")
    remark = next(line for line in STARTER.splitlines() if line.startswith("# profile"))
    assert once == STARTER.replace(remark, f'{remark}\nprofile = "mine.inks"')
    assert with_profile(once, "other.inks") == once.replace('"mine.inks"', '"other.inks"')


def test_what_is_no_toml_is_not_touched() -> None:
    """As tomllib says."""
    with pytest.raises(tomllib.TOMLDecodeError):
        with_profile("profile = ", "house.inks")
