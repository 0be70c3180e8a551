"""SIGTERM, SIGHUP and a closed terminal, at any time: what is under way is finished, nothing half done stays, nothing is lost.

The daemon's own log, a line at a time, says when: a signal comes after so many lines.
"""

import os
import random
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from itertools import islice
from pathlib import Path
from typing import IO

import pytest
from harness import Customer, make_shop, run_batch, violations

pytestmark = pytest.mark.skipif(not hasattr(signal, "SIGHUP"), reason="no such signals on this system")

LINES = 45
"""Fewer than a daemon writes of what `Customer.drop_all` sends it."""


@pytest.fixture(scope="module")
def template(tmp_path_factory: pytest.TempPathFactory, warm_cache: Path) -> Path:
    """A shop, its tables made."""
    root = make_shop(tmp_path_factory.mktemp("stops") / "shop")
    shutil.copytree(warm_cache, root / ".filmhand" / "cache", dirs_exist_ok=True)
    return root


@contextmanager
def _daemon(shop: Path, *before: str, stdin: int = subprocess.DEVNULL) -> Iterator[subprocess.Popen[str]]:
    """A daemon whose log can be read, a line at a time; it has written of its start."""
    command = [*before, sys.executable, "-m", "filmhand", "run", str(shop)]
    with subprocess.Popen(command, stdin=stdin, stderr=subprocess.PIPE, text=True) as process:
        try:
            assert "watching" in _log(process).readline()
            yield process
        finally:
            process.kill()


def _log(process: subprocess.Popen[str]) -> IO[str]:
    assert process.stderr is not None
    return process.stderr


def _half_done(shop: Path) -> list[Path]:
    """What only a crash leaves: files under a name for the time being."""
    parts = [*(shop / ".filmhand").rglob("*.part"), *(shop / "out" / ".filmhand-staging").glob("*.part")]
    return parts + [one for parent in ("held", "rejects") for one in shop.glob(f"{parent}/*/.filmhand-building/*")]


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(4))
def test_told_to_end_at_any_time(template: Path, tmp_path: Path, seed: int) -> None:
    """SIGTERM: it ends with 0, the invariants hold at once, and a later batch does the rest."""
    shop, taken = tmp_path / "shop", tmp_path / "taken"
    shutil.copytree(template, shop)
    customer = Customer(shop)
    customer.drop_all()
    with _daemon(shop) as process:
        seen = list(islice(_log(process), random.Random(seed).randrange(LINES)))
        process.send_signal(signal.SIGTERM)
        rest = _log(process).read()
        assert process.wait(60) == 0, "".join(seen) + rest
    assert "stopping" in rest
    assert "preparing" not in rest.partition("stopping")[2]
    assert not _half_done(shop)
    assert not list(violations(shop, taken, customer, at_rest=False))
    assert run_batch(shop) == 0
    assert not list(violations(shop, taken, customer, at_rest=True))


@pytest.mark.slow
def test_told_to_read_its_settings_again_and_again(template: Path, tmp_path: Path) -> None:
    """SIGHUP after every line of the log: settings are read anew though no file changed, and all is delivered meanwhile."""
    shop, taken = tmp_path / "shop", tmp_path / "taken"
    shutil.copytree(template, shop)
    customer = Customer(shop)
    customer.drop_all()
    with _daemon(shop) as process:
        seen = []
        for line in _log(process):
            seen.append(line)
            if "settings read anew" not in line:  # else the answer asks again, for ever
                process.send_signal(signal.SIGHUP)
            if " delivered " in line:
                process.send_signal(signal.SIGTERM)
        assert process.wait(60) == 0
    assert sum("settings read anew" in line for line in seen) > 1
    assert run_batch(shop) == 0
    assert not list(violations(shop, taken, customer, at_rest=True))


@pytest.mark.outside
@pytest.mark.skipif(shutil.which("setsid") is None, reason="needs setsid (Debian util-linux)")
def test_its_terminal_is_closed(template: Path, tmp_path: Path) -> None:
    """The system sends SIGHUP to all processes of the terminal: as SIGTERM, and children finish their files."""
    shop, taken = tmp_path / "shop", tmp_path / "taken"
    shutil.copytree(template, shop)
    customer = Customer(shop)
    customer.drop_all()
    ours, its = os.openpty()
    command = ["setsid", "--ctty", sys.executable, "-m", "filmhand", "run", str(shop)]
    with subprocess.Popen(command, stdin=its, stdout=its, stderr=its) as process:
        os.close(its)
        with os.fdopen(ours, "rb") as terminal:
            assert any(b"preparing" in line for line in terminal)
        assert process.wait(60) == 0
    log = (shop / ".filmhand" / "logs" / "filmhand.jsonl").read_text("utf-8")
    assert '"prepared"' in log.partition('"stopping"')[2], "the children did not finish"
    assert "preparing failed" not in log
    assert not _half_done(shop)
    assert not list(violations(shop, taken, customer, at_rest=False))
