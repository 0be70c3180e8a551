"""A disk of a few MiB of one's own, for tests of full disks: a tmpfs in a namespace of mounts (unshare(1)), without root."""

import shutil
import subprocess
import sys
from functools import cache
from pathlib import Path

import pytest

_MOUNT = 'mount -t tmpfs -o size="$1" small "$2" && shift 2 && exec "$@"'


@cache
def _is_there(place: Path) -> bool:
    if shutil.which("unshare") is None:
        return False
    return subprocess.run(command_on_small_disk(place, 1, "true"), capture_output=True, check=False).returncode == 0


def command_on_small_disk(place: Path, mib: int, *command: str) -> list[str]:
    """A command that runs another with an empty disk mounted at `place`."""
    return ["unshare", "-Urm", "sh", "-c", _MOUNT, "sh", f"{mib}m", str(place), *command]


def run_on_small_disk(place: Path, mib: int, script: str, *words: str | Path) -> str:
    """Run a Python script with an empty disk mounted at `place`; what it printed. Skips where that cannot be done.

    The script has what stands in _PRELUDE.
    """
    if not _is_there(place):
        pytest.skip("needs unshare(1) and user namespaces, which this machine does not allow")
    command = command_on_small_disk(place, mib, sys.executable, "-c", _PRELUDE + script, str(place), *map(str, words))
    done = subprocess.run(command, capture_output=True, text=True, timeout=240, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


_PRELUDE = f"""
import os, shutil, sys
from functools import partial
from pathlib import Path
sys.path.insert(0, {str(Path(__file__).parent)!r})
import full_disk
DISK = Path(sys.argv[1])
fill, make_room = partial(full_disk.fill, DISK), partial(full_disk.make_room, DISK)
"""
