"""Settling: a file is claimed once it is quiet, whatever the clock or its times say."""

import os
from pathlib import Path

import pytest

from filmhand.intake import settle
from filmhand.intake.listing import Entry, EntryKind, Fingerprint, is_temporary, list_folder, looks_finished
from filmhand.intake.pairing import tickets_by_artwork


def _entry(size: int = 10, mtime_ns: int = 1, inode: int = 1, kind: EntryKind = EntryKind.FILE) -> Entry:
    return Entry("dark", "a.png", kind, Fingerprint(1, inode, size, mtime_ns))


def _settled(entry: Entry, *, age: float, finished: bool | None) -> bool:
    seen = settle.Observation(entry, 100.0, finished)
    return settle.is_settled(seen, now=100.0 + age, quiet=2, patience=30)


def test_quiet_and_finished_settles() -> None:
    """A file whose end looks written is taken after the quiet time, not before."""
    assert not _settled(_entry(), age=1.9, finished=True)
    assert _settled(_entry(), age=2.0, finished=True)


def test_unfinished_end_waits_for_patience() -> None:
    """A file whose end does not look written is taken only after the patience: it may be damaged for good."""
    assert not _settled(_entry(), age=29.9, finished=False)
    assert _settled(_entry(), age=30.0, finished=False)


def test_empty_and_foreign_never_settle() -> None:
    """An empty placeholder, a link or a pipe is never claimed."""
    assert not _settled(_entry(size=0), age=1e6, finished=True)
    assert not _settled(_entry(kind=EntryKind.FOREIGN), age=1e6, finished=True)


@pytest.mark.parametrize("change", [{"size": 11}, {"mtime_ns": 2}, {"inode": 2}])
def test_any_change_restarts_the_wait(change: dict[str, int]) -> None:
    """A new size, time or inode starts the wait anew, and the end is looked at anew."""
    before = {("dark", "a.png"): settle.Observation(_entry(), 100.0, True)}
    after = settle.observe(before, [_entry(**change)], now=105.0)
    assert after["dark", "a.png"] == settle.Observation(_entry(**change), 105.0, None)


def test_unchanged_keeps_its_age_and_gone_is_forgotten() -> None:
    """Seeing the same again changes nothing; what is no longer listed leaves no trace."""
    before = {("dark", "a.png"): settle.Observation(_entry(), 100.0, True)}
    assert settle.observe(before, [_entry()], now=105.0) == before
    assert settle.observe(before, [], now=105.0) == {}


def test_listing_follows_nothing(tmp_path: Path) -> None:
    """Links, folders and pipes are listed as foreign; temporary names are not listed."""
    (tmp_path / "art.png").write_bytes(b"x")
    (tmp_path / "art.ticket.toml").write_bytes(b"x")
    (tmp_path / "link.png").symlink_to("art.png")
    (tmp_path / "folder").mkdir()
    os.mkfifo(tmp_path / "pipe.png")
    (tmp_path / "coming.png.part").write_bytes(b"x")
    kinds = {entry.name: entry.kind for entry in list_folder(tmp_path, "dark")}
    assert kinds == {
        "art.png": EntryKind.FILE,
        "art.ticket.toml": EntryKind.TICKET,
        "link.png": EntryKind.FOREIGN,
        "folder": EntryKind.FOREIGN,
        "pipe.png": EntryKind.FOREIGN,
    }


@pytest.mark.parametrize(
    "name",
    [
        *("a.png.part", "a.CRDOWNLOAD", "a.png.opdownload", "a.png.download", "Unconfirmed 12.crdownload"),
        *("~$a.png", ".~lock.a.png#", "#a.png#", "a~", ".a.png.swp", ".goutputstream-X1Y2Z3", "a.png.sb-1a2b3c4d-XyZ123"),
        *(".syncthing.a.png.tmp", "~syncthing~a.png.tmp", ".a.png.8fJk2P", ".a.png.~1a2b", "a.png.filepart", "a.png.aria2"),
        *("._a.png", ".DS_Store", "@eaDir", "Thumbs.db", "desktop.ini", "$RECYCLE.BIN", "Icon\r"),
        *(".nfs000000000012", ".fuse_hidden0001", ".filmhand-aside", ".filmhand-marker"),
    ],
)
def test_temporary_names(name: str) -> None:
    """Names that browsers, editors, sync tools and systems use while writing, or for themselves (common practice, no source)."""
    assert is_temporary(name)


@pytest.mark.parametrize("name", ["a.png", "part.png", "download.pdf", "a#1.png", "a~1.png", "$5.png", "a.sb-logo.png", "tmp"])
def test_names_of_artwork_are_not_temporary(name: str) -> None:
    """Names that only look like those are artwork."""
    assert not is_temporary(name)


def test_ends_are_told(tmp_path: Path) -> None:
    """PNG (ISO/IEC 15948) and JPEG (ITU-T T.81) ends are known; elsewhere zeros at the end look unfinished."""
    png = b"\x89PNG\r\n\x1a\n" + b"data" * 30
    cases = {
        b"\xff\xd8\xff\xe0" + b"data" * 30 + b"\xff\xd9": True,
        b"\xff\xd8\xff\xe0" + b"data" * 30: False,
        png + b"\0\0\0\0IEND\xaeB`\x82": True,
        png: False,
        b"II*\0" + b"data" * 30: True,
        b"II*\0" + b"\0" * 200: False,
    }
    for number, (data, finished) in enumerate(cases.items()):
        path = tmp_path / str(number)
        path.write_bytes(data)
        assert looks_finished(path, len(data)) is finished, data[:4]


def test_ticket_pairs() -> None:
    """A ticket file belongs to the artwork of its full name, else of its stem."""
    names = ["a.png", "a.jpg", "a.jpg.ticket.json", "b.pdf", "b.ticket.toml", "lone.ticket.toml"]
    entries = [
        Entry("dark", name, EntryKind.TICKET if ".ticket." in name else EntryKind.FILE, Fingerprint(1, n, 5, 1))
        for n, name in enumerate(names)
    ]
    pairs = {artwork: ticket.name for artwork, ticket in tickets_by_artwork(entries).items()}
    assert pairs == {"a.jpg": "a.jpg.ticket.json", "b.pdf": "b.ticket.toml"}
