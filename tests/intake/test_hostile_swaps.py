"""What lies in a hot folder is swapped by its writer while it is claimed: only what was listed is taken."""

import os
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from filmhand.intake import claim
from filmhand.intake.listing import Entry, EntryKind, list_folder


@pytest.fixture
def hot(tmp_path: Path) -> Path:
    """A hot folder, a spool, and a secret that the daemon's user can read and the writer cannot."""
    for name in ("in", "spool"):
        (tmp_path / name).mkdir()
    (tmp_path / "secret").write_bytes(b"secret!")
    (tmp_path / "in" / "a.png").write_bytes(b"artwork")
    return tmp_path / "in"


SWAPS: dict[str, Callable[[Path], object]] = {
    "link": lambda path: path.symlink_to("../secret"),
    "link to nothing": lambda path: path.symlink_to("nowhere"),
    "link to itself": lambda path: path.symlink_to(path.name),
    "hard link": lambda path: os.link(path.parent.parent / "secret", path),
    "pipe": os.mkfifo,
    "folder": Path.mkdir,
    "another file": lambda path: path.write_bytes(b"another"),
    "nothing": lambda _: None,
}
INSTANTS = ("open", "fstat", "read", "rename")


def _listed(hot: Path) -> Entry:
    (entry,) = list_folder(hot, "dark")
    assert entry.kind is EntryKind.FILE
    return entry


def _swap_at(call: str, path: Path, kind: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Swap what a name stands for just before the first such call of the claim."""
    home: Any = Path if call == "rename" else os
    real = getattr(home, call)

    def swapping(*arguments: Any, **named: Any) -> Any:
        monkeypatch.setattr(home, call, real)
        path.unlink()
        SWAPS[kind](path)
        return real(*arguments, **named)

    monkeypatch.setattr(home, call, swapping)


@pytest.mark.parametrize("instant", INSTANTS)
@pytest.mark.parametrize("kind", SWAPS)
def test_swapped_while_claimed(hot: Path, kind: str, instant: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """At each call of the claim, each kind of thing: it ends with the listed bytes or with nothing, and no part is left."""
    entry, target = _listed(hot), hot.parent / "spool" / "j"
    _swap_at(instant, hot / "a.png", kind, monkeypatch)
    try:
        spooled = claim.spool(hot / "a.png", entry, target)
    except OSError:
        spooled = None
    left = [path.name for path in target.parent.iterdir()]
    assert left == ([] if spooled is None else ["j"])
    assert spooled is None or target.read_bytes() == b"artwork"
    assert (hot.parent / "secret").read_bytes() == b"secret!"


@pytest.mark.parametrize("is_touched", [False, True])
@pytest.mark.parametrize("kind", SWAPS)
def test_swapped_before_it_is_removed(hot: Path, kind: str, is_touched: bool) -> None:
    """What stands there once our copy is safe is not removed, nor what it leads to, whatever its time says."""
    entry = _listed(hot)
    spooled = claim.spool(hot / "a.png", entry, hot.parent / "spool" / "j")
    assert spooled is not None
    (hot / "a.png").rename(hot.parent / "kept")  # else the disk may give its inode to the next file
    SWAPS[kind](hot / "a.png")
    if not is_touched and kind in ("another file", "hard link"):
        os.utime(hot / "a.png", ns=(entry.fingerprint.mtime_ns,) * 2)
    before = (hot / "a.png").lstat() if kind != "nothing" else None
    claim.remove_source(hot / "a.png", spooled, "j.artwork")
    assert before == ((hot / "a.png").lstat() if kind != "nothing" else None)
    assert (hot.parent / "secret").read_bytes() == b"secret!"


@pytest.mark.parametrize("kind", ["link", "pipe", "another file"])
def test_swapped_while_a_touched_source_is_looked_into(hot: Path, kind: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its time alone is new, so its bytes are read; what is put there in that instant is not waited for and not removed."""
    spooled = claim.spool(hot / "a.png", _listed(hot), hot.parent / "spool" / "j")
    assert spooled is not None
    os.utime(hot / "a.png", ns=(1, 1))
    lstat = Path.lstat

    def swap_after(self: Path) -> os.stat_result:
        found = lstat(self)
        monkeypatch.setattr(Path, "lstat", lstat)
        self.unlink()
        SWAPS[kind](self)
        return found

    monkeypatch.setattr(Path, "lstat", swap_after)
    try:
        claim.remove_source(hot / "a.png", spooled, "j.artwork")
    except OSError as refused:
        assert kind == "link", refused
    assert os.path.lexists(hot / "a.png")
    assert (hot.parent / "secret").read_bytes() == b"secret!"


def test_a_link_for_the_folder_aside_takes_nothing_else(hot: Path) -> None:
    """The folder to which sources go aside is in the writer's reach: made a link, it leads our removal to the source only."""
    elsewhere = hot.parent / "elsewhere"
    elsewhere.mkdir()
    (elsewhere / "kept").write_bytes(b"kept")
    spooled = claim.spool(hot / "a.png", _listed(hot), hot.parent / "spool" / "j")
    assert spooled is not None
    (hot / claim.ASIDE).symlink_to(elsewhere)
    claim.remove_source(hot / "a.png", spooled, "j.artwork")
    assert [path.name for path in elsewhere.iterdir()] == ["kept"]
    assert not (hot / "a.png").exists()


def test_a_file_for_the_folder_aside_is_said(hot: Path) -> None:
    """Made a file, nothing is removed, and an error says so: the source stays and is tried again."""
    spooled = claim.spool(hot / "a.png", _listed(hot), hot.parent / "spool" / "j")
    assert spooled is not None
    shutil.rmtree(hot / claim.ASIDE, ignore_errors=True)
    (hot / claim.ASIDE).write_bytes(b"in the way")
    with pytest.raises(FileExistsError):
        claim.remove_source(hot / "a.png", spooled, "j.artwork")
    assert (hot / "a.png").read_bytes() == b"artwork"
