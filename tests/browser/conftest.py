"""The browser: Debian's chromium."""

import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

Browser = Callable[..., str]


@pytest.fixture(scope="session")
def browser() -> Browser:
    """Runs it with further arguments; what it writes comes back. Its settings stay in the folder `home`."""
    program = shutil.which("chromium")
    if program is None:
        pytest.skip("chromium (Debian package chromium) is not installed")

    def run(home: Path, *arguments: str) -> str:
        command = [program, "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--force-device-scale-factor=1"]
        command += ["--disable-dev-shm-usage", f"--user-data-dir={home}", *arguments]
        return subprocess.run(command, capture_output=True, text=True, timeout=120, check=True).stdout

    return run
