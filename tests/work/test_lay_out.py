"""Laying out in a child process: designs in pieces, labels, the film; a finished layout is found again."""

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from filmhand.gang.labelled import LABEL_MM
from filmhand.gang.outline import outline_of
from filmhand.gang.stored import part_of
from filmhand.printer import Printer
from filmhand.rules import GangRules
from filmhand.work import lay_out as module
from filmhand.work.lay_out import LayOutTask, lay_out
from filmhand.work.prepare import OUTLINE

PRINTER = Printer(name="p", film_width="600 mm", mirror=True)


def _design(folder: Path, *, width_mm: float, height_mm: float) -> None:
    """A folder with the outline of a design that fills its box but for one corner."""
    coverage = np.full((80, 100), 255, np.uint8)
    coverage[:40, :50] = 0
    folder.mkdir(parents=True)
    outline = outline_of(coverage, width_mm=width_mm, height_mm=height_mm)
    (folder / OUTLINE).write_text(json.dumps(outline.to_json()), "utf-8")


def _task(tmp_path: Path, **rules: object) -> LayOutTask:
    _design(tmp_path / "whole", width_mm=100.0, height_mm=80.0)
    _design(tmp_path / "two", width_mm=200.0, height_mm=80.0)
    for part in (1, 2):
        _design(part_of(tmp_path / "two", part), width_mm=60.0, height_mm=50.0)
    waiting = (("two", (3,), tmp_path / "two"), ("whole", (1, 2), tmp_path / "whole"))
    return LayOutTask(waiting, PRINTER, GangRules(**{"seconds": 1, "nest": "box", **rules}), seed=7, cache=tmp_path)


def test_a_design_in_pieces_is_laid_in_pieces(tmp_path: Path) -> None:
    """Its own outline is not laid; its pieces have the sizes of theirs."""
    laid = lay_out(_task(tmp_path))
    assert sorted((one.job, one.copy, one.part) for one in laid.placements) == [
        ("two", 3, 1),
        ("two", 3, 2),
        ("whole", 1, 0),
        ("whole", 2, 0),
    ]
    assert {tuple(sorted((one.width_mm, one.height_mm))) for one in laid.placements if one.part} == {(50.0, 60.0)}
    assert all(one.label is None for one in laid.placements)


def test_each_copy_has_a_label_beside_it(tmp_path: Path) -> None:
    """Of the label's size, as it lies, and outside of the picture's box but for the corner that is bare."""
    laid = lay_out(_task(tmp_path, labels=True))
    for one in laid.placements:
        assert one.label is not None
        assert sorted((one.label.width_mm, one.label.height_mm)) == pytest.approx(sorted(LABEL_MM))


def test_a_layout_is_made_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The same task finds it again without nesting; another seed, gap or head strip does not."""
    task = _task(tmp_path)
    first = lay_out(task)
    monkeypatch.setattr(module, "fill_sheet", lambda *_, **__: pytest.fail("it was laid out again"))
    assert lay_out(task) == first
    for other in (
        replace(task, seed=8),
        replace(task, rules=task.rules.model_copy(update={"gap": 5.0})),
        replace(task, rules=GangRules(seconds=1, nest="box", marks={"header": True})),
    ):
        with pytest.raises(pytest.fail.Exception):
            lay_out(other)
