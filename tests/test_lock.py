"""The lock of what filmhand runs with: all that pyproject.toml asks for, at versions that it allows, each file by its digest."""

import re
import tomllib
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

ROOT = Path(__file__).parents[1]
ASKED = [Requirement(text) for text in tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]["dependencies"]]
LOCKED = (ROOT / "deploy" / "requirements.lock").read_text("utf-8")
ENTRY = re.compile(
    r"^(?P<name>[\w.-]+)==(?P<version>[^\s;]+)[^\\\n]*(?P<files>(?: *\\\n +--hash=sha256:[0-9a-f]{64})*)", re.MULTILINE
)


def _entries() -> list[tuple[str, str, int]]:
    """Name, version, how many digests."""
    found = ENTRY.finditer(LOCKED)
    return [(canonicalize_name(one["name"]), one["version"], one["files"].count("--hash")) for one in found]


@pytest.mark.parametrize("asked", ASKED, ids=str)
def test_what_is_asked_for_is_locked(asked: Requirement) -> None:
    """By name, in a version that pyproject.toml allows (PEP 440); else run deploy/lock."""
    versions = [version for name, version, _ in _entries() if name == canonicalize_name(asked.name)]
    assert versions
    assert all(asked.specifier.contains(version) for version in versions)


def test_every_line_is_a_version_with_digests() -> None:
    """No line that pip would take from elsewhere: pip's "secure installs" ask for a digest of every file."""
    lines = [line for line in LOCKED.splitlines() if not line.startswith(("#", " "))]
    assert len(lines) == len(_entries())
    assert all(digests for _, _, digests in _entries())
