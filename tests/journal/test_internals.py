"""docs/internals.md has the table of every legal state; it is held against the code."""

import inspect
import re
from collections.abc import Mapping
from enum import StrEnum
from pathlib import Path

import pytest

from filmhand.journal.states import JOB_MOVES, SHEET_MOVES, JobStage, SheetStage

PAGE = (Path(__file__).parents[2] / "docs" / "internals.md").read_text("utf-8")


@pytest.mark.parametrize(("stages", "moves"), [(JobStage, JOB_MOVES), (SheetStage, SHEET_MOVES)])
def test_the_table_of_states_is_the_code(stages: type[StrEnum], moves: Mapping[StrEnum, frozenset[StrEnum]]) -> None:
    """Each stage, its meaning and what may follow stand in the page just as in states.py."""
    meanings = dict(re.findall(r'(\w+) = "\w+"\n    """(.*?)"""', inspect.getsource(stages), re.DOTALL))
    for stage in stages:
        following = ", ".join(f"`{other}`" for other in stages if other in moves[stage]) or "–"
        assert f"| `{stage}` | {' '.join(meanings[stage.name].split())} | {following} |" in PAGE
