"""The log takes a stated room and no more. Rotation itself is the standard library's (logging.handlers)."""

import json
import logging
import os
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest
import structlog

from filmhand.service import logs

ROOM = logs.Room(file_bytes=4000, older_files=3)


@pytest.fixture(autouse=True)
def quiet_afterwards() -> Iterator[None]:
    """No handler of a test's folder outlives it."""
    yield
    for handler in logging.getLogger().handlers[:]:
        logging.getLogger().removeHandler(handler)
        with suppress(OSError):  # as logging.shutdown does at a program's end
            handler.close()
    structlog.reset_defaults()


def _lines(path: Path) -> list[int]:
    return [json.loads(line)["number"] for line in path.read_text("utf-8").splitlines()]


def test_size_and_number_of_files_are_bounded(tmp_path: Path) -> None:
    """Of a thousand lines the newest stay, each whole and in order, in four files of the stated size."""
    logs.set_up(tmp_path, terminal=False, room=ROOM)
    for number in range(1000):
        structlog.get_logger().info("claimed", number=number, file="artwork of a club.png")
    files = [tmp_path / logs.LOG, *(tmp_path / f"{logs.LOG}.{older}" for older in (1, 2, 3))]
    assert sorted(tmp_path.iterdir()) == sorted(files)
    assert all(path.stat().st_size <= ROOM.file_bytes for path in files)
    kept = [number for path in reversed(files) for number in _lines(path)]
    assert kept == list(range(1000 - len(kept), 1000))
    assert len(kept) > 50


def test_a_start_goes_on_in_the_file_there_is(tmp_path: Path) -> None:
    """A daemon that is started anew all night does not push the evening's lines out."""
    for number in range(5):
        logs.set_up(tmp_path, terminal=False, room=ROOM)
        structlog.get_logger().info("watching", number=number)
    assert _lines(tmp_path / logs.LOG) == [0, 1, 2, 3, 4]


def test_what_the_shop_keeps_is_as_the_operator_page_says() -> None:
    """The default: 220 MiB at most."""
    room = logs.Room()
    page = (Path(__file__).parents[2] / "docs" / "operations.md").read_text("utf-8")
    assert f"{room.file_bytes >> 20} MiB" in page
    assert f"{room.file_bytes * (room.older_files + 1) >> 20} MiB" in page


def test_a_log_that_cannot_be_written_stops_no_work(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    """A full disk takes no line (Linux's /dev/full); the caller never hears of it."""
    if not Path("/dev/full").exists():
        pytest.skip("there is no /dev/full here")
    (tmp_path / logs.LOG).symlink_to("/dev/full")
    logs.set_up(tmp_path, terminal=False)
    structlog.get_logger().info("claimed", number=1)
    assert "No space left" in capfd.readouterr().err
    assert os.path.lexists(tmp_path / logs.LOG)
