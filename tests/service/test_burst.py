"""Row 18 of docs/reliability.md: thousands of files at once, and one of gigabytes."""

import tracemalloc
from hashlib import file_digest
from pathlib import Path

import pytest
from shared_folders import Hands, hand_of, jobs_of, look, two_folders

from filmhand.intake.claim import spool
from filmhand.intake.listing import list_folder
from filmhand.service.decide import CLAIMS_AT_ONCE

FILES = 600
"""The row speaks of 5,000; each costs the disk five syncs."""
BYTES_A_FILE = 8 << 10
GIGABYTES = 2 << 30


@pytest.mark.slow
def test_thousands_of_files_at_once(tmp_path: Path) -> None:
    """In the order of their names, whatever order they were made in; work begins meanwhile, and memory stays small."""
    shop, clock = two_folders(tmp_path / "shop"), Hands()
    names = [f"{number * 7919 % FILES:05}.png" for number in range(FILES)]
    for name in names:
        (shop.inbox / "small" / name).write_bytes(f"no picture: {name}".encode())
    with hand_of(shop, clock) as hand:
        look(hand, clock)
        tracemalloc.start()
        looks, most_under_way = 0, 0
        while hand.settling or len(jobs_of(shop)) < FILES:
            look(hand, clock)
            looks, most_under_way = looks + 1, max(most_under_way, len(hand.under_way))
            assert looks <= FILES / CLAIMS_AT_ONCE + 2
            if looks == 2:
                assert hand.under_way, "claims keep work from beginning"
        _, peak = tracemalloc.get_traced_memory()
        tracemalloc.stop()
    assert [job.name for job in jobs_of(shop)] == sorted(names)
    assert most_under_way <= hand.house.settings.workers
    assert peak < FILES * BYTES_A_FILE + (8 << 20)


@pytest.mark.slow
def test_a_file_of_gigabytes(tmp_path: Path) -> None:
    """A sparse PNG of 2 GiB is copied in blocks, byte for byte, in the memory of a few of them."""
    source = tmp_path / "large.png"
    with source.open("wb") as file:
        file.write(b"\x89PNG\r\n\x1a\n")
        file.truncate(GIGABYTES)
    (entry,) = list_folder(tmp_path, "small")
    tracemalloc.start()
    spooled = spool(source, entry, tmp_path / "spooled")
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert spooled is not None
    assert spooled.path.stat().st_size == GIGABYTES
    with source.open("rb") as file:
        assert spooled.digest == file_digest(file, "sha256").hexdigest()
    assert peak < 8 << 20
