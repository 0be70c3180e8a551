"""A backup has all that rows need, whatever the daemon does meanwhile; restoring trusts nothing in the file."""

import hashlib
import json
import os
import sqlite3
import stat
import zipfile
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime
from pathlib import Path, PurePosixPath
from typing import Any

import pytest

from filmhand.cli.new import make
from filmhand.errors import FilmhandError, MachineError, NotFoundError, SettingsError
from filmhand.journal import jobs, schema, sheets
from filmhand.journal.jobs import New
from filmhand.journal.journal import Journal
from filmhand.journal.moves import Subject, move
from filmhand.journal.records import Job, JobId
from filmhand.journal.states import JobStage, SheetStage
from filmhand.shop import Shop
from filmhand.upkeep import backup as backup_module
from filmhand.upkeep.backup import back_up
from filmhand.upkeep.manifest import MANIFEST, name_of, path_of
from filmhand.upkeep.restore import restore
from small_shop import RULE
from some_records import a_job

NOW = datetime(2031, 5, 4, 22, 0, tzinfo=UTC)


def _job(name: str, content: bytes) -> Job:
    digest = hashlib.sha256(content).hexdigest()
    return a_job(name, folder="small", name="a\udcff.png", digest=digest, size_bytes=len(content))


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    """A shop whose journal has two claimed jobs, with a profile in a folder and a secret that only its owner may read."""
    shop = make(tmp_path / "shop")
    (shop.root / "rules" / "small.toml").write_text(RULE, "utf-8")
    shop.make_folders()
    with Journal.open(shop.journal) as journal:
        for name in ("one", "two"):
            (shop.spool / name).write_bytes(name.encode() * 1000)
            jobs.claim(journal, New(_job(name, name.encode() * 1000)))
    (shop.spool / "one.ticket").write_text("copies = 1")
    (shop.root / "profiles").mkdir()
    (shop.root / "profiles" / "house.icc").write_bytes(b"profile")
    (shop.root / "secrets.env").write_text("PASSWORD=x")
    (shop.root / "secrets.env").chmod(0o600)
    (shop.inbox / "small" / "not ours yet.png").write_bytes(b"x")
    (shop.cache / "one").mkdir()
    (shop.cache / "one" / "planes").write_bytes(b"can be made again")
    return shop


def _tree(root: Path) -> dict[str, bytes]:
    return {str(path.relative_to(root)): path.read_bytes() for path in root.rglob("*") if path.is_file()}


def test_all_that_rows_need_and_nothing_else(shop: Shop, tmp_path: Path) -> None:
    """Settings, profiles, originals, tickets and the journal come back as they were, with their modes; the cache does not."""
    manifest = back_up(shop, tmp_path / "b.zip", now=NOW)
    assert stat.S_IMODE((tmp_path / "b.zip").stat().st_mode) == 0o600
    assert manifest.missing == ()
    root = tmp_path / "elsewhere"
    assert restore(tmp_path / "b.zip", root, now=NOW) == manifest
    before, after = _tree(shop.root), _tree(root)
    gone = {name for name in before if name not in after}
    journals = {f".filmhand/journal.sqlite{ending}" for ending in ("-wal", "-shm")}
    assert gone - journals == {"in/small/not ours yet.png", ".filmhand/cache/one/planes"}
    assert {name for name in after if name not in before} <= journals
    assert all(after[name] == before[name] for name in after if "journal.sqlite" not in name)
    assert stat.S_IMODE((root / "secrets.env").stat().st_mode) == 0o600
    with Journal.read_only(root / ".filmhand" / "journal.sqlite") as journal:
        assert [(job.id, job.name) for job in jobs.by_stage(journal, JobStage.CLAIMED)] == [
            ("one", "a\udcff.png"),
            ("two", "a\udcff.png"),
        ]


def test_the_manifest_has_the_digest_of_every_file(shop: Shop, tmp_path: Path) -> None:
    """Reckoned here from the bytes in the archive, which any program that reads ZIP gets out."""
    back_up(shop, tmp_path / "b.zip", now=NOW)
    with zipfile.ZipFile(tmp_path / "b.zip") as archive:
        assert archive.testzip() is None
        stated = {one["name"]: (one["size"], one["sha256"]) for one in json.loads(archive.read(MANIFEST))["files"]}
        names = set(archive.namelist()) - {MANIFEST}
        found = {name: archive.read(name) for name in names}
    assert stated == {name: (len(data), hashlib.sha256(data).hexdigest()) for name, data in found.items()}


def test_a_job_that_moves_on_meanwhile(shop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Between the journal's copy and the files' one job ends and another comes: the backup has the later state, whole."""
    real, calls = backup_module.snapshot, []

    def snapshot_then_work(journal_path: Path, target: Path) -> None:
        real(journal_path, target)
        calls.append(target)
        if len(calls) == 1:
            with Journal.open(shop.journal) as journal:
                with journal.commit() as cursor:
                    move(cursor, Subject.job(JobId("one")), JobStage.REJECTING, at=NOW, place="one")
                    move(cursor, Subject.job(JobId("one")), JobStage.REJECTED, at=NOW)
                (shop.spool / "three").write_bytes(b"3")
                jobs.claim(journal, New(_job("three", b"3")))
            (shop.spool / "one").unlink()

    monkeypatch.setattr(backup_module, "snapshot", snapshot_then_work)
    manifest = back_up(shop, tmp_path / "b.zip", now=NOW)
    root = tmp_path / "elsewhere"
    restore(tmp_path / "b.zip", root, now=NOW)
    assert manifest.missing == ()
    assert len(calls) == 2
    with Journal.read_only(root / ".filmhand" / "journal.sqlite") as journal:
        claimed = [job.id for job in jobs.by_stage(journal, JobStage.CLAIMED)]
    assert claimed == ["two", "three"]
    assert all((root / ".filmhand" / "spool" / job).is_file() for job in claimed)


def test_what_is_lost_is_said(shop: Shop, tmp_path: Path) -> None:
    """An original that a row needs and that is nowhere: the rest is backed up, and the manifest names it."""
    (shop.spool / "two").unlink()
    manifest = back_up(shop, tmp_path / "b.zip", now=NOW)
    assert [Path(name).name for name in manifest.missing] == ["two"]
    assert any(kept.name.endswith("spool/one") for kept in manifest.files)


def test_a_journal_of_before_an_upgrade_is_kept_as_it_is(tmp_path: Path) -> None:
    """So that the older program can restore it; by SQLite's own word of its version. The shop's own is not upgraded either."""
    shop = make(tmp_path / "shop")
    with closing(sqlite3.connect(shop.journal)) as connection:
        connection.executescript(schema.STEPS[0])
        connection.execute("PRAGMA user_version = 1")
    back_up(shop, tmp_path / "b.zip", now=NOW)
    with zipfile.ZipFile(tmp_path / "b.zip") as archive:
        archive.extract(".filmhand/journal.sqlite", tmp_path / "out")
    for path in (tmp_path / "out" / ".filmhand" / "journal.sqlite", shop.journal):
        with closing(sqlite3.connect(path)) as connection:
            assert connection.execute("PRAGMA user_version").fetchone() == (1,)
    restore(tmp_path / "b.zip", tmp_path / "elsewhere", now=NOW)
    with Journal.read_only(tmp_path / "elsewhere" / ".filmhand" / "journal.sqlite") as journal:
        assert jobs.by_stage(journal, *JobStage) == []


@pytest.mark.parametrize("place", ["shop/b.zip", "shop/rules/b.zip", "old.zip"])
def test_a_backup_never_overwrites_and_never_lies_in_the_shop(shop: Shop, tmp_path: Path, place: str) -> None:
    """Nothing is left behind by the attempt."""
    (tmp_path / "old.zip").write_bytes(b"yesterday's")
    before = _tree(tmp_path)
    with pytest.raises(SettingsError):
        back_up(shop, tmp_path / place, now=NOW)
    assert {name: data for name, data in _tree(tmp_path).items() if "-shm" not in name} == {
        name: data for name, data in before.items() if "-shm" not in name
    }


def test_a_full_disk_leaves_no_half_backup(shop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Whatever breaks off while it is written."""

    def full(descriptor: int) -> None:
        raise OSError(28, os.strerror(28))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space"):
        back_up(shop, tmp_path / "b.zip", now=NOW)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["shop"]


@pytest.mark.parametrize("there", ["a shop", "a file", "a stray", "a link"])
def test_a_folder_that_is_in_use_is_refused(shop: Shop, tmp_path: Path, there: str) -> None:
    """Restoring writes over nothing, and through no link."""
    back_up(shop, tmp_path / "b.zip", now=NOW)
    root = tmp_path / "target"
    if there == "a shop":
        root = shop.root
    elif there == "a file":
        root.write_text("x")
    elif there == "a stray":
        root.mkdir()
        (root / "notes.txt").write_text("x")
    else:
        root.symlink_to(tmp_path / "nowhere")
    before = _tree(tmp_path)
    with pytest.raises(SettingsError):
        restore(tmp_path / "b.zip", root, now=NOW)
    assert _tree(tmp_path) == before


def test_an_empty_mount_point_will_do(shop: Shop, tmp_path: Path) -> None:
    """A new disk's file system has lost+found and nothing else."""
    back_up(shop, tmp_path / "b.zip", now=NOW)
    (tmp_path / "new" / "lost+found").mkdir(parents=True)
    restore(tmp_path / "b.zip", tmp_path / "new", now=NOW)
    assert (tmp_path / "new" / "shop.toml").is_file()


def _rewritten(source: Path, target: Path, change: Callable[[dict[str, Any], dict[str, bytes]], None]) -> None:
    """A backup taken apart, changed, and put together as well as an attacker would."""
    with zipfile.ZipFile(source) as archive:
        files = {name: archive.read(name) for name in archive.namelist()}
    manifest = json.loads(files.pop(MANIFEST))
    change(manifest, files)
    with zipfile.ZipFile(target, "w") as archive:
        for name, data in files.items():
            archive.writestr(name, data)
        archive.writestr(MANIFEST, json.dumps(manifest))


def _named(name: str) -> Callable[[dict[str, Any], dict[str, bytes]], None]:
    def change(manifest: dict[str, Any], files: dict[str, bytes]) -> None:
        files[name] = b"evil"
        digest = hashlib.sha256(b"evil").hexdigest()
        manifest["files"].append({"name": name, "size": 4, "sha256": digest, "mode": 0o644})

    return change


def _flip(manifest: dict[str, Any], files: dict[str, bytes]) -> None:
    files["printer.toml"] = files["printer.toml"].replace(b"6", b"7", 1)


def _longer(manifest: dict[str, Any], files: dict[str, bytes]) -> None:
    files["printer.toml"] += b" "


def _gone(manifest: dict[str, Any], files: dict[str, bytes]) -> None:
    del files["printer.toml"]


def _newer(manifest: dict[str, Any], files: dict[str, bytes]) -> None:
    manifest["version"] = 99


def _no_digest(manifest: dict[str, Any], files: dict[str, bytes]) -> None:
    manifest["files"][0]["sha256"] = "0"


HOSTILE = [
    _flip, _longer, _gone, _newer, _no_digest,
    *map(_named, ["../evil", "/etc/evil", "rules/../../evil", "rules//evil", "./evil", "%2e%2e/evil", "rules/%00", "evil%2Fx"]),
    *map(_named, [".filmhand/lock", ".filmhand/cache/x", ".filmhand/spool/a/b", "in/small/evil", "done/evil", "shop.toml"]),
]  # fmt: skip


@pytest.mark.parametrize("change", HOSTILE)
def test_a_backup_that_was_tampered_with(
    shop: Shop, tmp_path: Path, change: Callable[[dict[str, Any], dict[str, bytes]], None]
) -> None:
    """Paths out of the shop, folders no backup has, bytes that are not those stated: refused before anything is written."""
    back_up(shop, tmp_path / "b.zip", now=NOW)
    _rewritten(tmp_path / "b.zip", tmp_path / "evil.zip", change)
    with pytest.raises(MachineError):
        restore(tmp_path / "evil.zip", tmp_path / "elsewhere", now=NOW)
    assert not (tmp_path / "elsewhere").exists()
    assert not list(tmp_path.rglob("evil"))


def test_links_in_a_backup_are_refused(shop: Shop, tmp_path: Path) -> None:
    """A ZIP entry whose mode says symbolic link (as Info-ZIP writes them), even one that the manifest names."""
    back_up(shop, tmp_path / "b.zip", now=NOW)
    _rewritten(tmp_path / "b.zip", tmp_path / "evil.zip", _gone)
    with zipfile.ZipFile(tmp_path / "evil.zip", "a") as archive:
        link = zipfile.ZipInfo("printer.toml")
        link.external_attr = (stat.S_IFLNK | 0o777) << 16
        archive.writestr(link, "/etc/passwd")
    with pytest.raises(MachineError, match="no plain file"):
        restore(tmp_path / "evil.zip", tmp_path / "elsewhere", now=NOW)


@pytest.mark.parametrize("cut", [0, 1, 30, 50, 99])
def test_a_backup_cut_short(shop: Shop, tmp_path: Path, cut: int) -> None:
    """The first so many percent of one: said in a sentence, and nothing is written."""
    back_up(shop, tmp_path / "b.zip", now=NOW)
    data = (tmp_path / "b.zip").read_bytes()
    (tmp_path / "cut.zip").write_bytes(data[: len(data) * cut // 100])
    with pytest.raises(FilmhandError):
        restore(tmp_path / "cut.zip", tmp_path / "elsewhere", now=NOW)
    assert not (tmp_path / "elsewhere").exists()


def test_no_backup_there(tmp_path: Path) -> None:
    """The wrong name."""
    with pytest.raises(NotFoundError):
        restore(tmp_path / "no.zip", tmp_path / "elsewhere", now=NOW)


@pytest.mark.parametrize("name", ["rules/small.toml", "held/small/café \udcff%.png", "a\nb", "-x", "~"])
def test_names_go_in_and_out(name: str) -> None:
    """As ASCII in the archive, and back to the very bytes (PEP 383)."""
    path = PurePosixPath(name)
    assert name_of(path).isascii()
    assert path_of(name_of(path)) == path


@pytest.mark.parametrize(
    ("stage", "then"),
    [
        (SheetStage.SEALED, SheetStage.CANCELLED),
        (SheetStage.STAGED, SheetStage.HELD),
        (SheetStage.DELIVERING, SheetStage.HELD),
        (SheetStage.DELIVERED, SheetStage.DELIVERED),
    ],
)
def test_sheets_that_may_have_been_printed_since(shop: Shop, tmp_path: Path, stage: SheetStage, then: SheetStage) -> None:
    """One laid out is laid out anew, for the cache is gone; one near the hand-over waits for a person, its folder there."""
    _sheet_of(shop, stage)
    back_up(shop, tmp_path / "b.zip", now=NOW)
    restored = Shop(tmp_path / "elsewhere")
    restore(tmp_path / "b.zip", restored.root, now=NOW)
    with Journal.read_only(restored.journal) as journal:
        sheet = sheets.find(journal, "s1")
        (job,) = (job for job in jobs.by_stage(journal, *JobStage) if job.id == "one")
    assert sheet is not None and sheet.stage is then
    if then is SheetStage.HELD:
        assert "may have been printed" in sheet.why
        assert (restored.staging / "s1" / "ticket.json").is_file()
    if then is SheetStage.CANCELLED:
        assert job.stage is JobStage.WAITING


def _sheet_of(shop: Shop, stage: SheetStage) -> None:
    """A sheet with the one copy of a job, in a stage, as rows say it."""
    way = {SheetStage.SEALED: "sealed", SheetStage.STAGED: "staged", SheetStage.DELIVERING: "delivering"}.get(stage, "delivered")
    with Journal.open(shop.journal) as journal, journal.commit() as cursor:
        cursor.execute(
            "INSERT INTO sheet (name, folder, stage, opened, since, boot) VALUES ('s1', 'small', ?, ?, ?, 'b')",
            (way, NOW.isoformat(), NOW.isoformat()),
        )
        cursor.execute("UPDATE job SET stage = 'sheeted' WHERE id = 'one'")
        cursor.execute(
            "INSERT INTO placement (job, copy, sheet, x_mm, y_mm, width_mm, height_mm, rotation_deg)"
            " VALUES ('one', 1, (SELECT id FROM sheet WHERE name = 's1'), 0, 0, 1, 1, 0)"
        )
    if stage in (SheetStage.STAGED, SheetStage.DELIVERING):
        (shop.staging / "s1").mkdir()
        (shop.staging / "s1" / "ticket.json").write_text("{}")
