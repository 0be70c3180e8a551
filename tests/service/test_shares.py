"""Hot folders on servers: no events, offline, hanging, not to be written; and what customers do while files are taken.

Rows of docs/reliability.md are named where a test proves one. Folders are unmounted as one sees it from above: the folder of that
name is another, empty one.
"""

import errno
import os
import threading
from datetime import timedelta
from hashlib import sha256
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from shared_folders import Hands, copied, hand_of, jobs_of, look, names_of, pending_of, two_folders
from structlog.testing import capture_logs

from filmhand.delivery import publish
from filmhand.intake import listing
from filmhand.intake.away import SLOW
from filmhand.marker import MARKER, put_marker
from filmhand.service import reload
from filmhand.service.watch import why_no_events
from filmhand.shop import Shop
from small_shop import filmhand

ART = b"not a picture, which is soon seen"


@pytest.fixture(scope="session")
def template(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    """A shop to copy."""
    return two_folders(tmp_path_factory.mktemp("template") / "shop")


@pytest.fixture
def shop(template: Shop, tmp_path: Path) -> Shop:
    """A shop of its own."""
    return copied(template, tmp_path / "shop")


@pytest.fixture
def clock() -> Hands:
    """A clock that goes when it is told to."""
    return Hands()


def _drop(shop: Shop, name: str, data: bytes = ART, *, folder: str = "small") -> Path:
    path = shop.inbox / folder / name
    path.write_bytes(data)
    return path


def _unmount(folder: Path) -> Path:
    """What is seen when a share is unmounted: an empty folder. Returns where the share is now."""
    away = folder.with_name(f"{folder.name}-elsewhere")
    folder.rename(away)
    folder.mkdir()
    return away


def _mount(away: Path, folder: Path) -> None:
    for path in sorted(folder.rglob("*"), reverse=True):
        path.rmdir() if path.is_dir() else path.unlink()
    folder.rmdir()
    away.rename(folder)


def test_without_events_a_file_is_found_within_two_listings(shop: Shop, clock: Hands) -> None:
    """Row 4: nothing watches here; the listing alone."""
    with hand_of(shop, clock) as hand:
        look(hand, clock)
        _drop(shop, "a.png")
        look(hand, clock, times=2)
        assert names_of(shop) == ["a.png"]


def test_a_folder_made_and_filled_at_once_is_found(shop: Shop, clock: Hands) -> None:
    """Row 7: hot folders come with a file in them while we look; each is found. A folder inside a hot folder is not entered."""
    with hand_of(shop, clock) as hand:
        for number in range(10):
            (shop.root / "rules" / f"new{number}.toml").write_bytes((shop.root / "rules" / "small.toml").read_bytes())
            (shop.inbox / f"new{number}").mkdir()
            _drop(shop, f"{number}.png", folder=f"new{number}")
        (shop.inbox / "small" / "a" / "b").mkdir(parents=True)
        _drop(shop, "c.png", folder="small/a/b")
        hand.follow(reload.load(shop))
        look(hand, clock, times=2)
        assert sorted(names_of(shop)) == [f"{number}.png" for number in range(10)]
        assert (shop.inbox / "small" / "a" / "b" / "c.png").read_bytes() == ART


def test_a_drip_writer_is_waited_for(shop: Shop, clock: Hands) -> None:
    """Row 1: a file that grows a little before every quiet time is over, three times as long: one job, with all its bytes."""
    with hand_of(shop, clock) as hand:
        path = _drop(shop, "a.png", b"")
        for number in range(12):
            with path.open("ab") as file:
                file.write(bytes([65 + number]) * 1000)
            look(hand, clock, every=1.9)
        assert names_of(shop) == []
        data = path.read_bytes()
        look(hand, clock, times=2)
        assert [(job.name, job.digest) for job in jobs_of(shop)] == [("a.png", sha256(data).hexdigest())]


def test_a_copy_that_sets_its_size_first_is_not_taken_half_full(shop: Shop, clock: Hands) -> None:
    """Row 2: zeros at its end, quiet for longer than the quiet time; taken once it is filled."""
    with hand_of(shop, clock) as hand:
        path = _drop(shop, "a.tif", b"")
        os.truncate(path, 100_000)
        with path.open("r+b") as file:
            file.write(b"half" * 10_000)
        look(hand, clock, times=4)
        assert names_of(shop) == []
        with path.open("r+b") as file:
            file.seek(40_000)
            file.write(b"more" * 15_000)
        look(hand, clock, times=2)
        assert [job.digest for job in jobs_of(shop)] == [sha256(b"half" * 10_000 + b"more" * 15_000).hexdigest()]


def test_an_empty_placeholder_waits(shop: Shop, clock: Hands) -> None:
    """Row 3: empty for far longer than any patience; filled, it is taken."""
    with hand_of(shop, clock) as hand:
        path = _drop(shop, "a.png", b"")
        look(hand, clock, times=20)
        assert names_of(shop) == []
        path.write_bytes(ART)
        look(hand, clock, times=2)
        assert names_of(shop) == ["a.png"]


def test_a_temporary_name_is_ignored_until_it_is_renamed(shop: Shop, clock: Hands) -> None:
    """Row 13: as browsers and sync tools do; the final name is taken after its own quiet time."""
    with hand_of(shop, clock) as hand:
        path = _drop(shop, "a.png.crdownload")
        look(hand, clock, times=10)
        assert names_of(shop) == []
        path.rename(path.with_suffix(""))
        look(hand, clock, times=2)
        assert names_of(shop) == ["a.png"]


def test_an_unmounted_share_is_offline_and_the_others_go_on(shop: Shop, clock: Hands) -> None:
    """Row 6: shown by `filmhand status`; back again, what lies there is taken once, after a wait of its own."""
    folder = shop.inbox / "small"
    with hand_of(shop, clock) as hand:
        look(hand, clock)
        _drop(shop, "a.png")
        away = _unmount(folder)
        _drop(shop, "b.png", folder="other")
        with capture_logs() as said:
            look(hand, clock, times=3)
        assert names_of(shop) == ["b.png"]
        assert [line["folder"] for line in said if "offline" in line["event"]] == ["in/small"]
        assert "in/small" in filmhand("status", shop.root)
        assert MARKER in hand.listings.away["in/small"].why
        assert not (folder / MARKER).exists()
        _mount(away, folder)
        look(hand, clock)
        assert names_of(shop) == ["b.png"]
        look(hand, clock)
        assert names_of(shop) == ["b.png", "a.png"]
    assert "offline" not in filmhand("status", shop.root)


def test_an_unmounted_share_stays_offline_over_a_restart(shop: Shop, clock: Hands) -> None:
    """Row 6: the memory is on the disk; a person says that the empty folder is right by making the marker."""
    with hand_of(shop, clock) as hand:
        look(hand, clock)
    _unmount(shop.inbox / "small")
    with hand_of(shop, clock) as hand:
        look(hand, clock, times=2)
        assert set(hand.listings.away) == {"in/small"}
        (shop.inbox / "small" / MARKER).touch()
        look(hand, clock)
        assert not hand.listings.away


def test_a_folder_that_is_gone_is_offline(shop: Shop, clock: Hands) -> None:
    """Row 6: also one that never had a marker, such as a link to a mount that is not there when we start."""
    (shop.inbox / "small").rmdir()
    (shop.inbox / "small").symlink_to(shop.root / "not-there")
    with hand_of(shop, clock) as hand:
        _drop(shop, "b.png", folder="other")
        look(hand, clock, times=2)
        assert "cannot be listed" in hand.listings.away["in/small"].why
        assert names_of(shop) == ["b.png"]
        (shop.root / "not-there").mkdir()
        _drop(shop, "a.png")
        look(hand, clock, times=2)
        assert names_of(shop) == ["b.png", "a.png"]


def test_a_source_on_an_unmounted_share_is_not_taken_for_removed(shop: Shop, clock: Hands) -> None:
    """Row 6: claimed, then the share goes before its source is removed; once it is back the source goes, and is no second job."""
    folder = shop.inbox / "small"
    with hand_of(shop, clock) as hand:
        look(hand, clock)
        _drop(shop, "a.png")
        look(hand, clock, times=2)
        assert pending_of(shop) == 1
        away = _unmount(folder)
        look(hand, clock, times=5)
        assert pending_of(shop) == 1
        _mount(away, folder)
        look(hand, clock, times=5)
        assert pending_of(shop) == 0
        assert names_of(shop) == ["a.png"]
        assert list(folder.glob("[!.]*")) == []


def test_an_order_list_waits_while_its_folder_is_offline(shop: Shop, clock: Hands) -> None:
    """Row 6: its artwork cannot come, so it is not missing; back again, the list has its full wait anew."""
    folder = shop.inbox / "small"
    with hand_of(shop, clock) as hand:
        look(hand, clock)
        _drop(shop, "list.csv", b"file,copies\na.png,2\n")
        look(hand, clock, times=3)
        assert names_of(shop) == ["list.csv"]
        away = _unmount(folder)
        clock.forward(30 * 24 * 3600)
        look(hand, clock, times=2)
        (away / "a.png").write_bytes(ART)
        _mount(away, folder)
        look(hand, clock, times=3)
        assert [(job.name, job.copies) for job in jobs_of(shop)] == [("list.csv", 1), ("a.png", 2)]


def test_a_server_that_hangs_holds_up_its_own_folder_only(shop: Shop, clock: Hands, monkeypatch: pytest.MonkeyPatch) -> None:
    """Row 6: its listing does not return; the others go on, one thread waits, however often we look; then all is as before."""
    answers, scandir = threading.Event(), os.scandir

    def hanging(path: Any) -> Any:
        if Path(path).name == "small":
            answers.wait(60)
        return scandir(path)

    (shop.root / "shop.toml").write_text('listing_limit = "2 s"\n', "utf-8")
    with hand_of(shop, clock) as hand:
        look(hand, clock)
        _drop(shop, "a.png")
        _drop(shop, "b.png", folder="other")
        monkeypatch.setattr(listing.os, "scandir", hanging)
        look(hand, clock, times=10)
        assert names_of(shop) == ["b.png"]
        assert hand.listings.away["in/small"].why == SLOW
        assert len([one for one in threading.enumerate() if one.name == "list in/small"]) == 1
        monkeypatch.undo()
        answers.set()
        (shop.root / "shop.toml").write_text('listing_limit = "60 s"\n', "utf-8")
        hand.follow(reload.load(shop))
        for thread in threading.enumerate():
            if thread.name == "list in/small":
                thread.join(60)
        look(hand, clock)
        assert not hand.listings.away
        assert names_of(shop) == ["b.png"], "what was seen before the silence counts no more"
        look(hand, clock, times=2)
        assert names_of(shop) == ["b.png", "a.png"]


def test_an_unmounted_output_folder_is_not_taken_for_a_delivery(tmp_path: Path) -> None:
    """Row 6: the staged sheet is not seen, and that is no proof that it was handed over; back again, it is handed over."""
    out = tmp_path / "out"
    staged, target = out / ".filmhand-staging" / "dark-1", out / "dark" / "dark-1"
    staged.mkdir(parents=True)
    assert put_marker(out)
    away = _unmount(out)
    (out / ".filmhand-staging").mkdir()
    with pytest.raises(OSError, match="offline"):
        publish.hand_over(staged, target, booted_since_commit=False, marked=out)
    _mount(away, out)
    for _ in range(2):
        assert publish.hand_over(staged, target, booted_since_commit=False, marked=out) is publish.HandOver.DONE
    assert target.is_dir()


def test_a_source_that_cannot_be_removed_is_worked_once(shop: Shop, clock: Hands) -> None:
    """Row 9: said, not repeated, not even after a restart; once it can be, it goes, and the same name is free again."""
    aside = shop.inbox / "small" / ".filmhand-aside"
    aside.write_bytes(b"")  # where it must go first there is a file, so the system refuses, whoever we are
    with hand_of(shop, clock) as hand, capture_logs() as said:
        _drop(shop, "a.png")
        look(hand, clock, times=30, every=60)
    assert names_of(shop) == ["a.png"]
    refusals = [line for line in said if line["event"] == "this did not work, it will be tried again"]
    assert 2 <= len(refusals) <= 15, "said, at growing pauses"
    with hand_of(shop, clock) as hand:
        look(hand, clock, times=5, every=60)
        assert names_of(shop) == ["a.png"]
        assert (shop.inbox / "small" / "a.png").exists()
        aside.unlink()
        look(hand, clock, times=30, every=60)
        assert not (shop.inbox / "small" / "a.png").exists()
        _drop(shop, "a.png", b"another")
        look(hand, clock, times=2)
    assert [job.digest for job in jobs_of(shop)] == [sha256(data).hexdigest() for data in (ART, b"another")]


def test_touched_while_worked_on_is_one_job(shop: Shop, clock: Hands) -> None:
    """Row 8: its mode and its time change between our copy and its removal."""
    with hand_of(shop, clock) as hand:
        path = _drop(shop, "a.png")
        look(hand, clock, times=2)
        assert names_of(shop) == ["a.png"]
        assert path.exists()
        path.chmod(0o600)
        os.utime(path)
        look(hand, clock, times=5)
        assert names_of(shop) == ["a.png"]
        assert not path.exists()


def test_deleted_or_replaced_at_each_step(shop: Shop, clock: Hands) -> None:
    """Row 10: before the claim it never was; after it, deleting has no effect and a replacement is another job."""
    with hand_of(shop, clock) as hand:
        path = _drop(shop, "a.png", b"first")
        look(hand, clock)
        path.unlink()
        look(hand, clock, times=3)
        assert names_of(shop) == []
        _drop(shop, "a.png", b"second")
        look(hand, clock, times=2)
        path.unlink()
        look(hand, clock, times=3)
        _drop(shop, "a.png", b"third")
        look(hand, clock, times=2)
        path.unlink()
        _drop(shop, "a.png", b"fourth")
        look(hand, clock, times=4)
    assert [job.digest for job in jobs_of(shop)] == [sha256(data).hexdigest() for data in (b"second", b"third", b"fourth")]


def test_a_busy_file_is_tried_again_at_growing_pauses(shop: Shop, clock: Hands, monkeypatch: pytest.MonkeyPatch) -> None:
    """Row 14: EBUSY, as servers say of a file that a program has locked; said each time, the others go on; then it is taken."""
    opened, tried = os.open, []

    def busy(path: Any, *arguments: Any, **named: Any) -> int:
        if str(path).endswith("a.png"):
            tried.append(clock.seconds)
            if len(tried) > 1:  # the first is the look at its end
                raise OSError(errno.EBUSY, os.strerror(errno.EBUSY), str(path))
        return opened(path, *arguments, **named)

    with hand_of(shop, clock) as hand:
        monkeypatch.setattr(os, "open", busy)
        _drop(shop, "a.png")
        _drop(shop, "b.png")
        with capture_logs() as said:
            look(hand, clock, times=120)
        monkeypatch.undo()
        assert names_of(shop) == ["b.png"]
        pauses = [later - sooner for sooner, later in pairwise(tried[1:])]
        assert pauses == sorted(pauses)
        assert pauses[-1] > 4 * pauses[0]
        assert len([line for line in said if "a.png" in str(line.get("action")) and "busy" in line["why"]]) == len(tried) - 1
        look(hand, clock, times=120)
        assert names_of(shop) == ["b.png", "a.png"]


@pytest.mark.parametrize("years", [-10, 10])
def test_times_and_clocks_do_not_matter(shop: Shop, clock: Hands, years: int) -> None:
    """Row 15: a file from ten years ago or ahead, and a wall clock that jumps as far: taken after the quiet time, not before."""
    with hand_of(shop, clock) as hand:
        path = _drop(shop, "a.png")
        stamp = path.stat().st_mtime + years * 365 * 86400
        os.utime(path, (stamp, stamp))
        look(hand, clock)
        clock.wall += timedelta(days=365 * years)
        look(hand, clock, every=1.9)
        assert names_of(shop) == []
        look(hand, clock, times=2, every=1.0)
        assert names_of(shop) == ["a.png"]


def test_a_reached_limit_is_named() -> None:
    """Row 5: as inotify_add_watch(2) and inotify_init(2) say."""
    assert "fs.inotify.max_user_watches" in why_no_events(OSError(errno.ENOSPC, "inotify watch limit reached"))
    assert "fs.inotify.max_user_instances" in why_no_events(OSError(errno.EMFILE, "inotify instance limit reached"))
    assert "gone" in why_no_events(OSError(errno.ENOENT, "gone"))
