"""What the doctor makes of what it saw (pure), and what it sees in a real shop."""

import errno
import json
import os
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from threading import Event
from typing import Any

import pytest

from filmhand.errors import ExitCode
from filmhand.journal.journal import Journal
from filmhand.journal.moves import Subject, tell
from filmhand.service.clock import SystemClock
from filmhand.service.lock import ShopLock
from filmhand.shop import Shop
from filmhand.upkeep.doctor import Diagnosis, Disk, Facts, Folder, JournalFacts, State, diagnose, exit_code
from filmhand.upkeep.doctor_facts import gather, within
from small_shop import filmhand, new_shop

NOW = datetime(2031, 5, 4, 22, 0, tzinfo=UTC)
LOCAL = {"mount": "/srv", "kind": "ext4"}
STATE = Folder("/srv/shop/.filmhand", **LOCAL)  # type: ignore[arg-type]
STAGING = Folder("/srv/shop/out/.filmhand-staging", **LOCAL)  # type: ignore[arg-type]
OUT = Folder("/srv/shop/out/dark", **LOCAL)  # type: ignore[arg-type]
WELL = Facts(
    user="print", is_root=False, folders=(STATE,), staging=STAGING, handed=(OUT,), disks=(Disk("s", 50_000, 90_000, 10**6),),
    least_mib=1024, journal=JournalFacts("j", 5, 5), journal_folder=STATE, settings_fault=None, now=NOW,
    made=NOW - timedelta(days=90), zone="CEST", running=True, beat_s=3.0, hangs_after_s=600.0, watches=(40, 60_000),
    versions={"Python": "3.11.7"},
)  # fmt: skip


def _not_ok(facts: Facts) -> list[Diagnosis]:
    return [one for one in diagnose(facts) if one.state is not State.OK]


def test_a_shop_that_is_well() -> None:
    """Nothing to do, and exit code 0."""
    assert _not_ok(WELL) == []
    assert exit_code(diagnose(WELL)) is ExitCode.OK


def _journal(**changes: Any) -> dict[str, Any]:
    return {"journal": replace(WELL.journal, **changes)}


CASES: list[tuple[str, dict[str, Any], State, ExitCode, str]] = [
    ("user", {"is_root": True}, State.WARN, ExitCode.FOUND_FAULTS, "sudo -u"),
    ("folder", {"handed": (replace(OUT, answers=False, exists=False),)}, State.WRONG, ExitCode.MACHINE, "does not answer"),
    ("folder", {"handed": (replace(OUT, exists=False),)}, State.WARN, ExitCode.FOUND_FAULTS, "is not there"),
    ("folder", {"folders": (replace(STATE, usable=False),)}, State.WRONG, ExitCode.MACHINE, "print may not"),
    ("folder", {"staging": replace(STAGING, read_only=True)}, State.WRONG, ExitCode.MACHINE, "for reading only"),
    ("writing", {"written": "Disk quota exceeded"}, State.WRONG, ExitCode.MACHINE, "quota"),
    ("hand-over", {"handed": (OUT, replace(OUT, mount="/mnt/rip"))}, State.WRONG, ExitCode.MACHINE, "Mount the share at out/"),
    ("space", {"disks": (Disk("/srv", 1023, 90_000),)}, State.WRONG, ExitCode.MACHINE, "nothing new is begun"),
    ("space", {"disks": (Disk("/srv", 3071, 90_000),)}, State.WARN, ExitCode.FOUND_FAULTS, "Make room soon"),
    ("space", {"disks": (Disk("/srv", 50_000, 90_000, 12),)}, State.WRONG, ExitCode.MACHINE, "inodes"),
    ("journal", {"journal_folder": replace(STATE, kind="nfs4", network=True)}, State.WRONG, ExitCode.JOURNAL, "local disk"),
    ("journal", {"journal_folder": replace(STATE, kind="", mount="")}, State.WARN, ExitCode.FOUND_FAULTS, "not known"),
    ("journal", {"journal_folder": replace(STATE, kind="fuse.thing")}, State.WARN, ExitCode.FOUND_FAULTS, "fuse.thing"),
    ("journal", _journal(faults=("page 7 is gone",)), State.WRONG, ExitCode.JOURNAL, "restore the last backup"),
    ("journal", _journal(version=6), State.WRONG, ExitCode.JOURNAL, "newer filmhand"),
    ("journal", _journal(writable=False), State.WRONG, ExitCode.JOURNAL, "chown"),
    ("clock", {"now": datetime(1970, 1, 1, tzinfo=UTC)}, State.WRONG, ExitCode.MACHINE, "Set the clock"),
    ("clock", _journal(last_event=NOW + timedelta(hours=2)), State.WARN, ExitCode.FOUND_FAULTS, "later than that"),
    ("settings", {"settings_fault": "rules/a.toml, line 3"}, State.WRONG, ExitCode.SETTINGS, "line 3"),
    ("daemon", {"running": False}, State.WARN, ExitCode.FOUND_FAULTS, "systemctl start"),
    ("daemon", {"running": None}, State.WARN, ExitCode.FOUND_FAULTS, "cannot be known"),
    ("daemon", {"beat_s": 601.0}, State.WRONG, ExitCode.MACHINE, "10 min"),
    ("events", {"watches": (40, 79)}, State.WARN, ExitCode.FOUND_FAULTS, "fs.inotify.max_user_watches"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("what", "changes", "state", "code", "words"), CASES, ids=lambda value: value if isinstance(value, str) else ""
)
def test_each_thing_that_is_not_well(what: str, changes: dict[str, Any], state: State, code: ExitCode, words: str) -> None:
    """One thing changed gives one finding more, which says what to do, and its exit code."""
    (one,) = _not_ok(replace(WELL, **changes))
    assert (one.what, one.state, exit_code((one,))) == (what, state, code)
    assert one.next_step and words in f"{one.said} {one.next_step}"


def test_the_exit_code_goes_by_the_worst() -> None:
    """A wrong thing before any number of warnings."""
    facts = replace(WELL, is_root=True, running=False, settings_fault="a line")
    assert exit_code(diagnose(facts)) is ExitCode.SETTINGS


def _doctor(shop: Path, code: int) -> dict[str, list[dict[str, Any]]]:
    """What the command says as JSON, by kind."""
    found: dict[str, list[dict[str, Any]]] = {}
    facts = json.loads(filmhand("doctor", shop, "--json", code=code))
    assert facts["exit_code"] == code
    for one in facts["findings"]:
        found.setdefault(one["what"], []).append(one)
    return found


def test_a_new_shop_and_what_is_wrong_with_it(tmp_path: Path) -> None:
    """The whole command: a new shop wants only to be started; then a broken rule; then a journal that is none."""
    shop = new_shop(tmp_path / "shop")
    Shop.at(shop).make_folders()
    before = sorted(path for path in shop.rglob("*"))
    new = _doctor(shop, 1)
    assert new["daemon"][0]["state"] == "warn"
    assert {one["state"] for what, some in new.items() if what not in ("daemon", "user") for one in some} == {"ok"}
    assert sorted(path for path in shop.rglob("*")) == before
    (shop / "rules" / "small.toml").write_text("title = ", "utf-8")
    assert "small.toml" in _doctor(shop, 3)["settings"][0]["said"]
    (shop / ".filmhand" / "journal.sqlite").write_bytes(b"no journal, " * 100)
    assert "not a database" in _doctor(shop, 7)["journal"][-1]["said"]


def test_it_sees_a_daemon_and_a_clock_that_was_put_back(tmp_path: Path) -> None:
    """The lock is held by this process as a daemon's would be; an event of tomorrow is in the journal."""
    shop = Shop.at(new_shop(tmp_path / "shop"))
    tomorrow = SystemClock().now() + timedelta(days=1)
    with ShopLock(shop.lock), Journal.open(shop.journal) as journal:
        with journal.commit() as cursor:
            tell(cursor, Subject("sheet", 1), "opened", at=tomorrow)  # type: ignore[arg-type]
        facts = gather(shop, SystemClock())
    assert facts.running is True
    assert facts.journal.last_event == tomorrow
    assert facts.journal.version == facts.journal.known
    assert gather(shop, SystemClock()).running is False


def test_looking_makes_no_lock_file(tmp_path: Path) -> None:
    """Made by root, it would shut the service's own user out of the shop."""
    shop = Shop.at(new_shop(tmp_path / "shop"))
    assert gather(shop, SystemClock()).running is False
    assert not shop.lock.exists()


def test_a_folder_that_never_answers_is_left_waiting() -> None:
    """As a dead share does; an error is no answer either."""
    never = Event()
    assert within(0.05, never.wait) is None
    never.set()
    assert within(5, lambda: 7) == 7

    def refused() -> int:
        raise OSError(errno.ESTALE, "stale")

    assert within(5, refused) is None


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() != 0, reason="only root can look as another user")
def test_permissions_as_another_user_sees_them() -> None:
    """A plain user who may read the shop and not write it is told each folder, and what to do."""
    # Not in tmp_path: its parents are shut to others, and stay so.
    with TemporaryDirectory() as open_to_all:
        Path(open_to_all).chmod(0o755)
        shop = new_shop(Path(open_to_all) / "shop")
        Shop.at(shop).make_folders()
        done = _as_nobody(shop)
        assert done.returncode == ExitCode.MACHINE, done.stderr
        said = [one["said"] for one in json.loads(done.stdout)["findings"] if one["what"] in ("folder", "writing")]
        assert any("in/small" in text and "may not read and write it" in text for text in said)
        assert any("could not be written" in text for text in said)
        Path(open_to_all).chmod(0o700)
        assert "may not look into" in _as_nobody(shop).stderr


def _as_nobody(shop: Path) -> subprocess.CompletedProcess[str]:
    """The command as the user 65534 would run it."""
    ask = (  # once as root, for another user may not be let to this Python's own files
        "import io, os, sys\nfrom contextlib import redirect_stdout\n"
        "from pathlib import Path\nfrom filmhand.cli.doctor import doctor\n"
        "with redirect_stdout(io.StringIO()): doctor(Path(sys.argv[1]), as_json=True)\n"
        "os.setgroups([]); os.setgid(65534); os.setuid(65534)\n"
        "sys.exit(int(doctor(Path(sys.argv[1]), as_json=True)))"
    )
    return subprocess.run([sys.executable, "-c", ask, str(shop)], capture_output=True, text=True, check=False)
