"""docs/reliability.md names, for each of thirty-four things that happen at night, tests that there are."""

import ast
import re
from pathlib import Path

import pytest

TESTS = Path(__file__).parent
PAGE = (TESTS.parent / "docs" / "reliability.md").read_text("utf-8")
_ROW = re.compile(r"^\| (\d+) \|(.*)\|$", re.MULTILINE)
_TEST = re.compile(r"`([\w/]+\.py)::(\w+)`")


def _rows() -> list[tuple[int, list[str]]]:
    return [(int(number), cells.split("|")) for number, cells in _ROW.findall(PAGE)]


def test_every_row_stands_there_once() -> None:
    """1 to 34, in order, each with what happens, what filmhand does, and a test."""
    assert [number for number, _ in _rows()] == list(range(1, 35))
    for number, cells in _rows():
        assert len(cells) == 3, f"row {number} has {len(cells) + 1} cells"
        assert _TEST.search(cells[2]), f"row {number} names no test"


@pytest.mark.parametrize("named", sorted({match.groups() for match in _TEST.finditer(PAGE)}), ids="::".join)
def test_every_named_test_is_there(named: tuple[str, str]) -> None:
    """As Python's own parser reads the file: a function of that name at its top level, which pytest collects."""
    file, name = named
    assert name.startswith("test_")
    tree = ast.parse((TESTS / file).read_text("utf-8"))
    assert [node.name for node in tree.body if isinstance(node, ast.FunctionDef) and node.name == name] == [name]


def test_a_row_of_tests_has_nothing_else() -> None:
    """A name that is misspelt would otherwise be taken for text."""
    for number, cells in _rows():
        rest = _TEST.sub("", cells[2]).replace(",", "").strip()
        assert not rest, f"row {number}: {rest!r} is no test"
