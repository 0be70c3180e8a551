"""What each kind of work may touch: its original, the colour files that settings name, its own folder, what several share."""

from collections.abc import Iterator
from functools import singledispatch
from pathlib import Path
from typing import Any

from filmhand.colour.choose import curves_beside
from filmhand.printer import Printer
from filmhand.rules import RuleFile
from filmhand.work.confine import Reach
from filmhand.work.lay_out import LayOutTask
from filmhand.work.make_sheet import MakeSheetTask
from filmhand.work.prepare import PrepareTask


@singledispatch
def reach_of(task: Any) -> Reach:
    """The reach of a task."""
    raise TypeError(f"nobody said what {type(task).__name__} may touch")


@reach_of.register
def _of_prepare(task: PrepareTask) -> Reach:
    """It decodes what a stranger sent: that one file, and nothing of other jobs."""
    return Reach((task.original, *_colour_files(task.rule, task.printer, task.base)), task.target, (task.cache,))


@reach_of.register
def _of_lay_out(task: LayOutTask) -> Reach:
    """It reads outlines, and keeps finished layouts."""
    return Reach(tuple(folder for _, _, folder in task.waiting), None, (task.cache,))


@reach_of.register
def _of_make_sheet(task: MakeSheetTask) -> Reach:
    """It keeps turned designs beside separations. One that the cache has lost is prepared again beside the others."""
    preparations = task.preparations.values()
    files = {path for one in preparations for path in _colour_files(one.rule, one.printer, one.base)}
    files |= set(_colour_files(task.rule, task.printer, task.base))
    lost = [one for one in preparations if not one.target.is_dir()]
    beside = {one.target.parent for one in lost} | {one.target for one in preparations if one not in lost}
    return Reach((*sorted(files), *(one.original for one in lost)), task.target, (task.cache, *sorted(beside)))


def _colour_files(rule: RuleFile, printer: Printer, base: Path) -> Iterator[Path]:
    """Those that a printer and a rule name, with the curves of a printer that has drifted."""
    if printer.profile is not None:
        yield base / printer.profile
        yield curves_beside(base / printer.profile)
    general = rule.general.colour
    named = {general.assume_rgb, general.assume_cmyk, general.link}
    named |= {changes.get("colour", {}).get("link") for _, changes in rule.cases}
    yield from (rule.base / name for name in sorted(filter(None, named)))
