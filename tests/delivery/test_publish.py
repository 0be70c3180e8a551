"""Publishing ②: one rename, never over another name, and a second look decides after a crash."""

from pathlib import Path

import pytest

from filmhand.delivery import file_away, publish
from filmhand.delivery.publish import HandOver


@pytest.fixture
def staged(tmp_path: Path) -> Path:
    """A staged sheet on the output's mount."""
    folder = tmp_path / "out" / ".filmhand-staging" / "dark-1"
    folder.mkdir(parents=True)
    (folder / "dark-1_C.tif").write_bytes(b"dots")
    return folder


def _target(staged: Path) -> Path:
    return staged.parent.parent / "dark" / staged.name


def test_handing_over_moves_the_whole_folder(staged: Path) -> None:
    """It is gone from staging and whole in the output folder."""
    assert publish.hand_over(staged, _target(staged), booted_since_commit=False) is HandOver.DONE
    assert not staged.exists()
    assert (_target(staged) / "dark-1_C.tif").read_bytes() == b"dots"


def test_gone_from_staging_means_handed_over(staged: Path) -> None:
    """After a crash behind the rename: done, even when the controller has taken it and whether or not power was lost."""
    publish.hand_over(staged, _target(staged), booted_since_commit=False)
    (_target(staged) / "dark-1_C.tif").unlink()
    _target(staged).rmdir()
    assert publish.hand_over(staged, _target(staged), booted_since_commit=False) is HandOver.DONE
    assert publish.hand_over(staged, _target(staged), booted_since_commit=True) is HandOver.DONE


def test_still_staged_after_a_power_cut_is_doubtful(staged: Path) -> None:
    """The rename may have reached the controller and been undone by the cut: a person looks, nothing moves."""
    assert publish.hand_over(staged, _target(staged), booted_since_commit=True) is HandOver.DOUBTFUL
    assert staged.exists()


def test_a_taken_name_is_never_overwritten(staged: Path) -> None:
    """Not even by an empty folder, which POSIX rename would replace without a word."""
    _target(staged).mkdir(parents=True)
    assert publish.hand_over(staged, _target(staged), booted_since_commit=False) is HandOver.NAME_TAKEN
    assert staged.exists()


@pytest.mark.parametrize(
    ("name", "safe"),
    [
        ("crest.png", "crest.png"),
        ("../../etc/passwd", "_.._etc_passwd"),
        ("-rf.png", "rf.png"),
        ("a\nb\x1b[31m.png", "a_b_[31m.png"),
        ("CON.png", "_CON.png"),
        ("<script>.svg", "_script_.svg"),
        (" . ", "unnamed"),
        ("x" * 255, "x" * 120),
        ("錦" * 80 + ".png", "錦" * 38 + ".png"),
        ("x" * 251 + ".png", "x" * 116 + ".png"),
        ("=cmd|' /C calc'!A0.csv", "=cmd_' _C calc'!A0.csv"),
    ],
)
def test_safe_names(name: str, safe: str) -> None:
    """Readable as the customer's, harmless on every file system and to a shell."""
    assert file_away.safe_name(name) == safe


def test_places_do_not_collide(tmp_path: Path) -> None:
    """A name on disk, or chosen by another job, gets the job's id."""
    assert file_away.free_place(tmp_path, "a.png", job="k2", taken=frozenset()) == "a.png"
    assert file_away.free_place(tmp_path, "a.png", job="k2", taken=frozenset({"a.png"})) == "a~k2.png"
    (tmp_path / "a.png").mkdir()
    assert file_away.free_place(tmp_path, "a.png", job="k2", taken=frozenset()) == "a~k2.png"


def test_filing_an_original_may_be_repeated(tmp_path: Path) -> None:
    """Done twice, it is there once, with the same bytes."""
    (tmp_path / "spool").write_bytes(b"artwork")
    for _ in range(2):
        file_away.file_original(tmp_path / "spool", tmp_path / "done" / "day" / "a~k2.png")
    assert [path.name for path in (tmp_path / "done" / "day").iterdir()] == ["a~k2.png"]
    assert (tmp_path / "done" / "day" / "a~k2.png").read_bytes() == b"artwork"
