"""Claiming ①: the copy is exact, a change is noticed, and nothing is unlinked that is not what was copied."""

import hashlib
import os
from pathlib import Path

import pytest

from filmhand import marker
from filmhand.intake import claim
from filmhand.intake.listing import Entry, Fingerprint, list_folder


@pytest.fixture
def hot(tmp_path: Path) -> Path:
    """A hot folder and a spool."""
    (tmp_path / "in").mkdir()
    (tmp_path / "spool").mkdir()
    return tmp_path / "in"


def _drop(hot: Path, data: bytes = b"artwork", name: str = "a.png") -> Entry:
    (hot / name).write_bytes(data)
    return next(entry for entry in list_folder(hot, "dark") if entry.name == name)


def _copied(hot: Path, entry: Entry, data: bytes = b"artwork") -> claim.Spooled:
    return claim.Spooled(hot.parent / "spool" / "j", entry.fingerprint, hashlib.sha256(data).hexdigest())


def test_spool_is_an_exact_copy(hot: Path) -> None:
    """The spool has the same bytes, the digest is SHA-256 of them, and the source is still there."""
    data = os.urandom(3_000_000)
    spooled = claim.spool(hot / "a.png", _drop(hot, data), hot.parent / "spool" / "j")
    assert spooled is not None
    assert (hot.parent / "spool" / "j").read_bytes() == data
    assert spooled.digest == hashlib.sha256(data).hexdigest()
    assert (hot / "a.png").exists()


def test_a_changed_source_is_left(hot: Path) -> None:
    """What is no longer what was listed is not claimed, and nothing stays in the spool."""
    entry = _drop(hot)
    (hot / "a.png").write_bytes(b"another artwork")
    assert claim.spool(hot / "a.png", entry, hot.parent / "spool" / "j") is None
    assert list((hot.parent / "spool").iterdir()) == []


def test_written_while_copied_is_left(hot: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A source that grows while it is copied is still being written: left alone, no partial copy stays."""
    entry = _drop(hot)
    read = os.read

    def grow_then_read(descriptor: int, count: int) -> bytes:
        with (hot / "a.png").open("ab") as file:
            file.write(b"more")
        monkeypatch.setattr(os, "read", read)
        return read(descriptor, count)

    monkeypatch.setattr(os, "read", grow_then_read)
    assert claim.spool(hot / "a.png", entry, hot.parent / "spool" / "j") is None
    assert list((hot.parent / "spool").iterdir()) == []


def test_a_link_put_in_its_place_is_not_followed(hot: Path) -> None:
    """A symbolic link under the listed name is refused by the system before anything is read."""
    entry = _drop(hot)
    (hot.parent / "secret").write_bytes(b"secret!")
    (hot / "a.png").unlink()
    (hot / "a.png").symlink_to("../secret")
    with pytest.raises(OSError, match="symbolic link"):
        claim.spool(hot / "a.png", entry, hot.parent / "spool" / "j")


def test_a_pipe_put_in_its_place_does_not_block(hot: Path) -> None:
    """A pipe under the listed name is neither waited for nor claimed."""
    entry = _drop(hot)
    (hot / "a.png").unlink()
    os.mkfifo(hot / "a.png")
    assert claim.spool(hot / "a.png", entry, hot.parent / "spool" / "j") is None


def test_removal_takes_just_that_file_and_may_be_repeated(hot: Path) -> None:
    """The source goes; doing it again does nothing."""
    entry = _drop(hot)
    for _ in range(2):
        claim.remove_source(hot / "a.png", _copied(hot, entry), "j.artwork")
        assert not (hot / "a.png").exists()
        assert list((hot / claim.ASIDE).iterdir()) == []


def test_a_replacement_is_a_new_arrival(hot: Path) -> None:
    """A file put under the name after we copied the old one is never touched."""
    entry = _drop(hot)
    (hot / "a.png").unlink()
    _drop(hot, b"a replacement")
    claim.remove_source(hot / "a.png", _copied(hot, entry), "j.artwork")
    assert (hot / "a.png").read_bytes() == b"a replacement"


def test_swapped_in_the_instant_of_moving_aside(hot: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Swapped between our look and our move: what lies aside is not ours, and is given back as it was."""
    entry = _drop(hot)
    rename = Path.rename

    def swap_then_rename(self: Path, target: Path) -> Path:
        if self.name == "a.png":
            monkeypatch.setattr(Path, "rename", rename)
            self.unlink()
            self.write_bytes(b"a replacement")
        return rename(self, target)

    monkeypatch.setattr(Path, "rename", swap_then_rename)
    claim.remove_source(hot / "a.png", _copied(hot, entry), "j.artwork")
    assert (hot / "a.png").read_bytes() == b"a replacement"
    assert list((hot / claim.ASIDE).iterdir()) == []


def test_removal_goes_on_after_a_crash_between_moving_and_unlinking(hot: Path) -> None:
    """A source that lies aside already, with a new arrival under its name: only the one aside is removed."""
    entry = _drop(hot)
    (hot / claim.ASIDE).mkdir()
    (hot / "a.png").rename(hot / claim.ASIDE / "j.artwork")
    _drop(hot, b"a new arrival")
    claim.remove_source(hot / "a.png", _copied(hot, entry), "j.artwork")
    assert (hot / "a.png").read_bytes() == b"a new arrival"
    assert list((hot / claim.ASIDE).iterdir()) == []


def test_a_touched_source_is_the_same_file(hot: Path) -> None:
    """Row 8: its bytes are those that we copied, so it goes; with another time and other bytes it is kept."""
    for data, is_kept in ((b"artwork", False), (b"ARTWORK", True)):
        entry = _drop(hot)
        (hot / "a.png").write_bytes(data)
        os.utime(hot / "a.png", ns=(1, 1))
        assert Fingerprint.of((hot / "a.png").stat()) != entry.fingerprint
        claim.remove_source(hot / "a.png", _copied(hot, entry), "j.artwork")
        assert (hot / "a.png").exists() is is_kept


@pytest.mark.parametrize("gone", [True, False])
def test_renamed_or_replaced_while_copied_is_left(hot: Path, monkeypatch: pytest.MonkeyPatch, *, gone: bool) -> None:
    """Rows 8 and 10: the name no longer leads to what was copied, so nothing is ours; the next listing sees what is there."""
    entry = _drop(hot)
    read = os.read

    def rename_then_read(descriptor: int, count: int) -> bytes:
        monkeypatch.setattr(os, "read", read)
        (hot / "a.png").rename(hot / "b.png")
        if not gone:
            (hot / "a.png").write_bytes(b"another")
        return read(descriptor, count)

    monkeypatch.setattr(os, "read", rename_then_read)
    assert claim.spool(hot / "a.png", entry, hot.parent / "spool" / "j") is None
    assert list((hot.parent / "spool").iterdir()) == []


def test_an_unmounted_folder_does_not_count_as_removed(hot: Path) -> None:
    """Row 6: the folder had its marker once; in the empty one in its place nothing is concluded. Back again, the source goes."""
    entry = _drop(hot)
    assert marker.put_marker(hot)
    share = hot.rename(hot.parent / "share")
    hot.mkdir()
    with pytest.raises(OSError, match="offline"):
        claim.remove_source(hot / "a.png", _copied(hot, entry), "j.artwork", is_marked=True)
    hot.rmdir()
    share.rename(hot)
    for _ in range(2):
        claim.remove_source(hot / "a.png", _copied(hot, entry), "j.artwork", is_marked=True)
        assert not (hot / "a.png").exists()
