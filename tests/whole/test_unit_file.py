"""deploy/filmhand.service: hardened, as systemd's own tool scores it, and yet it lets the program do all that it does."""

import os
import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from filmhand.errors import ExitCode
from filmhand.service.notify_manager import HEALTHY_S
from filmhand.shop import ShopSettings
from filmhand.units import parse_seconds
from filmhand.work import kernels
from small_shop import RULE, new_shop, picture

UNIT = Path(__file__).parents[2] / "deploy" / "filmhand.service"
BAR = 1.5

REFUSED = {
    "fchown": "SQLite gives files that root makes to the journal's owner, and calls it as root alone (os_unix.c)",
    "mbind": "OpenBLAS places its memory near a processor, and goes on where it may not",
}
"""Calls that the program can do without: the trace answers them as the unit does."""


def _settings() -> dict[str, list[str]]:
    """Every setting of the unit with its values, in order."""
    found: dict[str, list[str]] = {}
    for line in UNIT.read_text("utf-8").splitlines():
        if line and line[0] not in "#[":
            key, _, value = line.partition("=")
            found.setdefault(key, []).append(value)
    return found


def _analyze() -> str:
    program = shutil.which("systemd-analyze")
    if program is None:
        pytest.skip("systemd-analyze (Debian package systemd) is not here")
    return program


def _said(*words: str) -> str:
    done = subprocess.run([_analyze(), *words], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout + done.stderr


@pytest.mark.outside
def test_exposure_as_systemd_scores_it() -> None:
    """systemd-analyze security: 0 is best, 10 worst; with a bar (--threshold, in tenths) it fails by itself too."""
    said = _said("security", "--offline=yes", f"--threshold={BAR * 10:.0f}", str(UNIT))
    score = re.search(r"Overall exposure level for \S+: ([\d.]+)", said)
    assert score is not None, said
    print(score[0])
    assert float(score[1]) <= BAR


@pytest.mark.outside
def test_every_line_means_something_to_systemd(tmp_path: Path) -> None:
    """systemd-analyze verify warns of unknown keys and values; the program itself stands in for what is installed."""
    unit = tmp_path / UNIT.name
    unit.write_text(UNIT.read_text("utf-8").replace("/opt/filmhand/bin/filmhand", "/bin/true"), "utf-8")
    assert _said("verify", "--man=no", str(unit)) == ""


def test_times_and_codes_are_the_programs_own() -> None:
    """Watchdog and health check wait alike; stopping waits longer than any file may take, starting than compiling may."""
    unit = _settings()
    assert unit["Type"] == ["notify"]
    assert parse_seconds(unit["WatchdogSec"][0].replace("min", " min")) == HEALTHY_S
    assert parse_seconds(unit["TimeoutStopSec"][0].replace("min", " min")) > ShopSettings().seconds_per_file
    assert parse_seconds(unit["TimeoutStartSec"][0].replace("min", " min")) > kernels._MOST_SECONDS
    codes = {ExitCode(int(code)) for code in unit["RestartPreventExitStatus"][0].split()}
    assert codes == {ExitCode.WRONG_USE, ExitCode.SETTINGS, ExitCode.NOT_FOUND}
    cache = f"/var/cache/{unit['CacheDirectory'][0]}/"
    assert any(f"NUMBA_CACHE_DIR={cache}" in line for line in unit["Environment"])
    assert "MemoryDenyWriteExecute" not in unit, "numba's kernels are written into memory and run there (mprotect(2))"


def _allowed() -> set[str]:
    """System calls that the unit allows, its groups spelled out by systemd."""
    allowed: set[str] = set()
    for line in _settings()["SystemCallFilter"]:
        names = {name for word in line.lstrip("~").split() for name in _names(word)}
        allowed = allowed - names if line.startswith("~") else allowed | names
    return allowed | set(_names("@default"))  # systemd.exec(5): always allowed with an allow-list


def _names(word: str) -> Iterator[str]:
    if not word.startswith("@"):
        yield word
        return
    for line in _said("syscall-filter", word).splitlines()[1:]:
        name = line.strip()
        if name and not name.startswith("#"):
            yield from _names(name)


@pytest.mark.outside
@pytest.mark.slow
def test_the_daemon_needs_no_call_that_the_unit_refuses(tmp_path: Path, warm_cache: Path) -> None:
    """strace lists every system call from start to SIGTERM, child processes and a delivered sheet among them."""
    strace = shutil.which("strace")
    if strace is None:
        pytest.skip("strace (Debian package strace) is not here")
    allowed = _allowed()
    assert "mount" not in allowed and "openat" in allowed
    root, counts = new_shop(tmp_path / "shop", rule=RULE), tmp_path / "counts"
    shutil.copytree(warm_cache, root / ".filmhand" / "cache", dirs_exist_ok=True)
    (root / "in" / "small" / "A1_40mm_x2.png").write_bytes(picture(1))
    traced = [
        strace,
        "-D",
        "-f",
        "-qq",
        "-c",
        "-o",
        str(counts),
        "-e",
        f"inject={','.join(REFUSED)}:error=EPERM",
        sys.executable,
        "-m",
        "filmhand",
        "run",
        str(root),
    ]
    with subprocess.Popen(traced, stderr=subprocess.DEVNULL, env=os.environ | {"NOTIFY_SOCKET": str(tmp_path / "n")}) as daemon:
        try:
            _until(lambda: bool(list(root.glob("done/*/*.png"))), 150)
            daemon.send_signal(signal.SIGTERM)
            assert daemon.wait(60) == 0
        finally:
            daemon.kill()
    _until(lambda: counts.exists() and "total" in counts.read_text(), 30)
    made = {line.split()[-1] for line in counts.read_text().splitlines()[2:] if line[:1] == " " and " total" not in line}
    assert {"openat", "renameat2", "rename"} & made and "fsync" in made
    assert made - allowed <= set(REFUSED)
    assert not allowed & set(REFUSED)


def _until(happened: object, seconds: float) -> None:
    """The daemon and its tracer are other processes: there is nothing to wait on but what they leave."""
    assert callable(happened)
    end = time.monotonic() + seconds
    while not happened():
        assert time.monotonic() < end, "nothing came of it"
        time.sleep(0.1)
