"""The one rename refused, or done and reported as failed: row 27 of docs/reliability.md. A second look at both names decides."""

import errno
import os
from pathlib import Path

import pytest

from filmhand.delivery import publish
from filmhand.delivery.publish import HandOver
from filmhand.intake import claim
from filmhand.intake.listing import Fingerprint


@pytest.fixture
def staged(tmp_path: Path) -> Path:
    """A staged sheet on the output's mount."""
    folder = tmp_path / "out" / ".filmhand-staging" / "dark-1"
    folder.mkdir(parents=True)
    (folder / "dark-1_C.tif").write_bytes(b"dots")
    return folder


def _rename_once(monkeypatch: pytest.MonkeyPatch, code: int, *, is_done: bool) -> None:
    """The next rename fails with a code of the system; it is done all the same, or not."""
    rename = Path.rename

    def failing(self: Path, target: Path) -> Path:
        monkeypatch.setattr(Path, "rename", rename)
        if is_done:
            rename(self, target)
        raise OSError(code, os.strerror(code), str(self))

    monkeypatch.setattr(Path, "rename", failing)


@pytest.mark.parametrize("code", [errno.EACCES, errno.EBUSY, errno.EIO, errno.ESTALE])
def test_a_refused_rename_is_tried_again(staged: Path, monkeypatch: pytest.MonkeyPatch, code: int) -> None:
    """As where another program has a file of the folder open: the sheet stays staged and whole, and goes the next time."""
    target = staged.parent.parent / "dark" / staged.name
    _rename_once(monkeypatch, code, is_done=False)
    with pytest.raises(OSError, match=os.strerror(code)):
        publish.hand_over(staged, target, booted_since_commit=False)
    assert not target.exists()
    assert publish.hand_over(staged, target, booted_since_commit=False) is HandOver.DONE
    assert (target / "dark-1_C.tif").read_bytes() == b"dots"


@pytest.mark.parametrize("is_taken", [True, False])
def test_a_rename_done_but_reported_as_failed(staged: Path, monkeypatch: pytest.MonkeyPatch, *, is_taken: bool) -> None:
    """As NFS may, when its answer was lost: not done twice, also when the controller has already taken the sheet."""
    target = staged.parent.parent / "dark" / staged.name
    _rename_once(monkeypatch, errno.EIO, is_done=True)
    with pytest.raises(OSError, match=os.strerror(errno.EIO)):
        publish.hand_over(staged, target, booted_since_commit=False)
    if is_taken:
        target.rename(staged.parent.parent.parent / "taken")
    assert publish.hand_over(staged, target, booted_since_commit=False) is HandOver.DONE
    assert target.exists() is not is_taken


@pytest.mark.parametrize("is_done", [True, False])
def test_moving_a_source_aside_likewise(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, *, is_done: bool) -> None:
    """The source goes the next time, whether or not the failed rename had moved it."""
    source = tmp_path / "a.png"
    source.write_bytes(b"artwork")
    copied = claim.Spooled(tmp_path / "spool", Fingerprint.of(source.stat()), "")
    _rename_once(monkeypatch, errno.EBUSY, is_done=is_done)
    with pytest.raises(OSError, match=os.strerror(errno.EBUSY)):
        claim.remove_source(source, copied, "j.artwork")
    claim.remove_source(source, copied, "j.artwork")
    assert [path.name for path in tmp_path.rglob("*") if path.is_file()] == []
