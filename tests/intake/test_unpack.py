"""Archives: what is in them comes out byte for byte, and nothing they say of paths, sizes or counts is believed."""

import hashlib
import io
import stat
import struct
import zipfile
from pathlib import Path

import numpy as np
import pytest

from filmhand.intake import unpack
from filmhand.intake.unpack import Part, unpacked
from filmhand.preflight.finding import Finding, Severity


def _zip(path: Path, members: dict[str, bytes], compression: int = zipfile.ZIP_DEFLATED) -> Path:
    with zipfile.ZipFile(path, "w", compression) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return path


def _refusal(path: Path, folder: Path) -> str:
    found = unpacked(path, folder)
    assert isinstance(found, Finding)
    assert found.severity is Severity.REJECT
    return str(found.message)


@pytest.mark.parametrize("compression", [zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA])
def test_files_come_out_as_they_went_in(tmp_path: Path, compression: int) -> None:
    """Against Python's own zip writer, in every way of packing that it has; the digest is hashlib's of what went in."""
    noise = np.random.default_rng(1).bytes(300_000)
    archive = _zip(tmp_path / "a.zip", {"one.png": noise, "sub/two.png": b"two"}, compression)
    parts = unpacked(archive, tmp_path / "out")
    assert parts == (
        Part("one.png", "0000", 0, hashlib.sha256(noise).hexdigest(), len(noise)),
        Part("two.png", "0001", 0, hashlib.sha256(b"two").hexdigest(), 3),
    )
    assert (tmp_path / "out" / "0000").read_bytes() == noise


def test_paths_lead_nowhere(tmp_path: Path) -> None:
    """Names that would climb, start at the root or at a drive (CWE-22) are names only: all files lie in the one folder."""
    names = ["../../up.png", "/etc/root.png", "..\\..\\win.png", "C:\\x\\drive.png", "a/../../b.png"]
    archive = _zip(tmp_path / "a.zip", dict.fromkeys(names, b"x"))
    parts = unpacked(archive, tmp_path / "out")
    assert [part.name for part in parts] == ["up.png", "root.png", "win.png", "drive.png", "b.png"]
    assert sorted(path.relative_to(tmp_path).as_posix() for path in tmp_path.rglob("*") if path.is_file()) == [
        "a.zip",
        *(f"out/{n:04d}" for n in range(5)),
    ]


def test_what_systems_add_is_left_out(tmp_path: Path) -> None:
    """Folders, resource forks and thumbnails that packing programs add (common practice, no source)."""
    members = {"art/": b"", "art/a.png": b"x", "__MACOSX/art/._a.png": b"m", "art/.DS_Store": b"d", "Thumbs.db": b"t"}
    parts = unpacked(_zip(tmp_path / "a.zip", members), tmp_path / "out")
    assert [part.name for part in parts] == ["a.png"]


def test_a_bomb_is_refused_before_it_goes_off(tmp_path: Path) -> None:
    """200 MB of zeros in 200 KB: a thousand to one. Nothing is written."""
    archive = tmp_path / "bomb.zip"
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED) as opened, opened.open("a.png", "w") as member:
        for _ in range(200):
            member.write(bytes(1 << 20))
    assert "unpacks to more than 400 times its size" in _refusal(archive, tmp_path / "out")
    assert list((tmp_path / "out").iterdir()) == []


def test_a_size_that_lies_is_caught(tmp_path: Path) -> None:
    """The directory says 10 bytes where a megabyte is packed (APPNOTE 4.3.12, offset 24): no more than said is ever written."""
    archive = _zip(tmp_path / "a.zip", {"a.png": np.random.default_rng(1).bytes(1 << 20)})
    data = bytearray(archive.read_bytes())
    directory = data.index(b"PK\x01\x02")
    data[directory + 24 : directory + 28] = struct.pack("<I", 10)
    archive.write_bytes(data)
    assert "damaged" in _refusal(archive, tmp_path / "out")
    assert all(path.stat().st_size <= 10 for path in (tmp_path / "out").iterdir())


def test_too_many_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One more than the most is too many; the most is not."""
    monkeypatch.setattr(unpack, "MOST_FILES", 5)
    assert len(unpacked(_zip(tmp_path / "5.zip", {f"{n}.png": b"x" for n in range(5)}), tmp_path / "5")) == 5
    assert "6 files" in _refusal(_zip(tmp_path / "6.zip", {f"{n}.png": b"x" for n in range(6)}), tmp_path / "6")


def test_locked_linked_empty_and_broken(tmp_path: Path) -> None:
    """A password (general purpose bit 0), a symbolic link (S_IFLNK in the external attributes), nothing, one bit turned."""
    locked = bytearray(_zip(tmp_path / "l.zip", {"a.png": b"secret"}).read_bytes())
    locked[6] |= 1
    locked[locked.index(b"PK\x01\x02") + 8] |= 1
    (tmp_path / "l.zip").write_bytes(locked)
    assert "password" in _refusal(tmp_path / "l.zip", tmp_path / "l")

    with zipfile.ZipFile(tmp_path / "s.zip", "w") as archive:
        link = zipfile.ZipInfo("a.png")
        link.external_attr = (stat.S_IFLNK | 0o777) << 16
        archive.writestr(link, "/etc/passwd")
    assert "link" in _refusal(tmp_path / "s.zip", tmp_path / "s")

    assert "no files" in _refusal(_zip(tmp_path / "e.zip", {}), tmp_path / "e")

    whole = _zip(tmp_path / "b.zip", {"a.png": np.random.default_rng(2).bytes(5000)}, zipfile.ZIP_STORED).read_bytes()
    turned = bytearray(whole)
    turned[1000] ^= 4
    (tmp_path / "b.zip").write_bytes(turned)
    assert "damaged" in _refusal(tmp_path / "b.zip", tmp_path / "b")


def test_cut_anywhere_it_is_refused(tmp_path: Path) -> None:
    """The directory stands at the end (APPNOTE 4.3.6): without it there is no archive, and no half of one."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as archive:
        for n in range(3):
            archive.writestr(f"{n}.png", np.random.default_rng(n).bytes(2000))
    data = buffer.getvalue()
    for share in range(5, 100, 7):
        path = tmp_path / f"{share}.zip"
        path.write_bytes(data[: len(data) * share // 100])
        assert "damaged" in _refusal(path, tmp_path / f"out{share}")
