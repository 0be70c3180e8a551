"""Power cut: in a traced batch every byte is synced before it is renamed, and every name before the journal tells of it."""

from pathlib import Path

import pytest
from harness import Customer, make_shop, needs_strace, run_batch
from syncs import CALLS, Disk, read

SHOP = "/s"
SPOOLED = (
    '1 openat(AT_FDCWD</>, "/s/spool/a.part", O_WRONLY|O_CREAT, 0666) = 5</s/spool/a.part>',
    '1 write(5</s/spool/a.part>, "x"..., 9) = 9',
    "1 fsync(5</s/spool/a.part>) = 0",
    '1 rename("/s/spool/a.part", "/s/spool/a") = 0',
    "1 fsync(6</s/spool>) = 0",
    "1 fdatasync(7</s/.filmhand/journal.sqlite-wal>) = 0",
    '1 unlink("/s/in/dark/.filmhand-aside/a") = 0',
)
NO_SYNC = "import os; os.fsync = lambda descriptor: None; from filmhand import cli; cli.main()"


@pytest.mark.parametrize(
    ("left_out", "fault"),
    [
        (None, None),
        ("1 fsync(5", "/s/spool/a.part is renamed to /s/spool/a before it is synced"),
        ("1 fsync(6", "the journal is committed before the name /s/spool/a is synced"),
        ("1 fdatasync", "/s/in/dark/.filmhand-aside/a is removed before a synced journal tells of its copy"),
    ],
)
def test_each_sync_is_missed(left_out: str | None, fault: str | None) -> None:
    """The protocol of a claim (docs/internals.md) is without fault; with any of its syncs left out the fault is named."""
    lines = [line for line in SPOOLED if left_out is None or not line.startswith(left_out)]
    assert read(lines, SHOP).faults == ([] if fault is None else [fault])


def test_a_call_that_is_interrupted_in_the_trace_counts_where_it_ends() -> None:
    """Of two threads: the rename ends before the sync does."""
    lines = (
        *SPOOLED[:2],
        "1 fsync(5</s/spool/a.part> <unfinished ...>",
        '2 rename("/s/spool/a.part", "/s/spool/a") = 0',
        "1 <... fsync resumed>) = 0",
    )
    assert len(read(lines, SHOP).faults) == 1


def traced(folder: Path, program: tuple[str, ...]) -> Disk:
    """A batch of everything a customer drops, under strace with its children."""
    shop = make_shop(folder / "shop")
    Customer(shop).drop_all()
    trace = folder / "trace"
    tracing = ("strace", "-f", "-qq", "-y", "-s", "0", "-e", f"trace={CALLS}", "-e", "signal=none", "-o", str(trace))
    assert run_batch(shop, *tracing, program=program) == 0
    with trace.open("r", encoding="utf-8", errors="replace") as lines:
        return read((line.rstrip("\n") for line in lines), str(shop))


@pytest.mark.outside
@pytest.mark.slow
@needs_strace
def test_a_batch_is_synced_in_order(tmp_path: Path) -> None:
    """Claims, preparations, a sheet and filings: no fault, and enough of them seen."""
    disk = traced(tmp_path, ("-m", "filmhand"))
    assert disk.faults == []
    assert disk.commits > 30
    assert disk.renames > 30


@pytest.mark.outside
@pytest.mark.slow
@needs_strace
def test_a_filmhand_that_does_not_sync_is_found_out(tmp_path: Path) -> None:
    """Negative control: file syncs that do nothing."""
    disk = traced(tmp_path, ("-c", NO_SYNC))
    assert any("is renamed" in fault for fault in disk.faults)
    assert any("the journal is committed" in fault for fault in disk.faults)
