"""A shop backed up while its daemon works, restored elsewhere, prints what waited."""

import json
import shutil
import subprocess
import sys
import time
from pathlib import Path

from small_shop import RULE, SHOP, filmhand, new_shop, picture


def test_jobs_that_waited_are_printed_by_the_restored_shop(tmp_path: Path, warm_cache: Path) -> None:
    """Two orders wait for a sheet when the backup is made; a batch in the restored shop delivers every copy of them."""
    root, elsewhere = new_shop(tmp_path / "shop", rule=RULE.replace('after = "1 s"', 'after = "9 h"')), tmp_path / "elsewhere"
    (root / "shop.toml").write_text(SHOP, "utf-8")
    shutil.copytree(warm_cache, root / ".filmhand" / "cache", dirs_exist_ok=True)
    sent = {"A1_40mm_x2.png": picture(1), "A2_40mm_x3.png": picture(2)}
    for name, data in sent.items():
        (root / "in" / "small" / name).write_bytes(data)
    with subprocess.Popen([sys.executable, "-m", "filmhand", "run", str(root)], stderr=subprocess.DEVNULL) as daemon:
        try:
            _until_waiting(root, copies=5)
            assert "files" in filmhand("backup", root, tmp_path / "b.zip")
            assert daemon.poll() is None
        finally:
            daemon.kill()
    assert "as it was on" in filmhand("restore", tmp_path / "b.zip", elsewhere)
    shutil.copytree(warm_cache, elsewhere / ".filmhand" / "cache", dirs_exist_ok=True)  # only to save making it again
    assert "ordered 5: delivered 5, on sheets 0, waiting 0, held 0, rejected 0" in filmhand("batch", elsewhere)
    tickets = [json.loads(path.read_text("utf-8")) for path in (elsewhere / "out" / "small").glob("*/ticket.json")]
    copies = sorted((one["file"], one["copy"]) for ticket in tickets for one in ticket["placements"])
    assert copies == [
        (name, copy) for name, count in (("A1_40mm_x2.png", 2), ("A2_40mm_x3.png", 3)) for copy in range(1, count + 1)
    ]
    assert sorted(path.read_bytes() for path in (elsewhere / "done").rglob("*.png")) == sorted(sent.values())


def _until_waiting(root: Path, *, copies: int) -> None:
    """The daemon is another process: there is nothing to wait on but what it says of itself."""
    end = time.monotonic() + 90
    while time.monotonic() < end:
        if (root / ".filmhand" / "journal.sqlite").exists() and f"waiting {copies}," in _status(root):
            return
    raise AssertionError(_status(root))


def _status(root: Path) -> str:
    done = subprocess.run([sys.executable, "-m", "filmhand", "status", str(root)], capture_output=True, text=True, check=False)
    return done.stdout
