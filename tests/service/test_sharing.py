"""Printers that share a hot folder: each job goes to the one that will be through first."""

from datetime import UTC, datetime
from typing import Any

import pytest

from filmhand.journal.records import Job
from filmhand.journal.states import JobStage, SheetStage
from filmhand.printer import Printer
from filmhand.service.sharing import least_loaded, reckoned
from some_records import a_job, a_sheet

NOW = datetime(2031, 5, 4, 22, 0, tzinfo=UTC)


def _printer(**speeds: float) -> Printer:
    return Printer(name="p", film_width="600 mm", speed_m2_h={int(passes[1:]): speed for passes, speed in speeds.items()})


def _job(printer: str, copies: int, **prepared: Any) -> Job:
    return a_job(copies=copies, stage=JobStage.WAITING, printer=printer, prepared=prepared)


@pytest.mark.parametrize(
    ("load", "chosen"),
    [
        ({}, "left"),
        ({"left": 1.0}, "right"),
        ({"left": 9.0, "right": 5.0}, "left"),  # 0.9 h against 1 h: the left one is twice as fast
        ({"left": 11.0, "right": 5.0}, "right"),
    ],
)
def test_hours_of_work_decide_not_metres(load: dict[str, float], chosen: str) -> None:
    """The slowest passes of each printer file are counted; of equals the rule's first is taken."""
    printers = {"left": _printer(p4=20.0, p8=10.0), "right": _printer(p6=5.0)}
    assert least_loaded(("left", "right"), printers, load) == chosen


def test_a_printer_without_speeds_counts_as_slow_as_the_slowest() -> None:
    """It is not starved, and not flooded."""
    printers = {"left": _printer(p4=10.0), "right": _printer()}
    assert least_loaded(("left", "right"), printers, {"left": 2.0, "right": 1.0}) == "right"
    assert least_loaded(("left", "right"), {name: _printer() for name in printers}, {"left": 2.0, "right": 3.0}) == "left"


def test_the_load_is_copies_that_wait_and_sheets_on_their_way() -> None:
    """0.1 m² × 3 copies; a job not yet prepared counts as the mean of the others; a sheet of 0.6 m × 2 m."""
    waiting = [
        _job("left", 3, width_mm=500.0, height_mm=200.0),
        _job("right", 2),
        _job("right", 1, width_mm=300.0, height_mm=1000.0),
    ]
    sheet = a_sheet(stage=SheetStage.SEALED, printer="left", film_width_mm=600.0, length_mm=2000.0)
    assert reckoned(waiting, [sheet]) == pytest.approx({"left": 3 * 0.1 + 1.2, "right": 2 * 0.2 + 0.3})
