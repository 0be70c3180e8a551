"""What goes from a cache that is too large, and what never does."""

import errno
import os
import shutil
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from filmhand.service.eviction import PART, Kept, choose, evict, in_cache
from filmhand.shop import TABLES

_NAMES = st.sampled_from(
    ["aaaaaaaa", "bbbbbbbb", "bbbbbbbb.marked.png", "tables/k.table", "tables/layout-1.json", "cccccccc.1.part"]
)
_KEPT = st.lists(
    st.builds(lambda name, size, used: Kept(name, size, used, "/" in name), _NAMES, st.integers(0, 100), st.floats(0, 9)),
    unique_by=lambda one: one.name,
    max_size=6,
)


@given(kept=_KEPT, most=st.integers(0, 300), needed=st.sets(st.sampled_from(["aaaaaaaa", "bbbbbbbb"])), at_work=st.booleans())
def test_enough_goes_and_nothing_that_is_needed(kept: list[Kept], most: int, needed: set[str], at_work: bool) -> None:
    """Within the limit afterwards, or nothing is left that may go; none too many; nobody older than one that went stays."""
    going = choose(kept, most_bytes=most, needed=needed, at_work=at_work)
    by_name = {one.name: one for one in kept}
    may_go = {
        one.name
        for one in kept
        if one.name.split(".")[0] not in needed and not one.name.endswith(".part") and ("/" not in one.name or not at_work)
    }
    assert set(going) <= may_go
    left = sum(one.size_bytes for one in kept) - sum(by_name[name].size_bytes for name in going)
    assert left <= most or set(going) == may_go
    if going:
        assert left + by_name[going[-1]].size_bytes > most
        latest = max(by_name[name].used for name in going)
        assert all(by_name[name].used >= latest for name in may_go - set(going))


def _file(path: Path, mib: int, used: float) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(bytes(mib << 20))
    os.utime(path, (used, used))


def _cache(root: Path) -> Path:
    """A separation of 3 MiB in two folders, one of 2 MiB, a table and what is half made, the oldest first."""
    _file(root / "aaaaaaaa" / "C.npy", 2, 1)
    _file(root / "aaaaaaaa" / "part-1" / "C.npy", 1, 1)
    _file(root / "bbbbbbbb" / "C.npy", 2, 2)
    _file(root / TABLES / "k.table", 1, 3)
    _file(root / "cccccccc.1.part" / "C.npy", 1, 0)
    for name, used in (("aaaaaaaa", 1), ("bbbbbbbb", 2)):
        os.utime(root / name, (used, used))
    return root


def test_a_cache_is_measured_whole(tmp_path: Path) -> None:
    """Folders with all that is in them; the bytes as they were written here."""
    sizes = {one.name: (one.size_bytes >> 20, one.is_shared) for one in in_cache(_cache(tmp_path))}
    assert sizes == {"aaaaaaaa": (3, False), "bbbbbbbb": (2, False), "tables/k.table": (1, True), "cccccccc.1.part": (1, False)}


def test_least_recently_used_goes_first(tmp_path: Path) -> None:
    """Of 7 MiB to 4: the one of 3. To 1 with the other needed: the table as well, once no child process may be reading it."""
    assert evict(_cache(tmp_path), most_mib=4, needed=(), at_work=True) == 1
    assert sorted(path.name for path in tmp_path.iterdir()) == ["bbbbbbbb", "cccccccc.1.part", "tables"]
    assert evict(tmp_path, most_mib=1, needed={"bbbbbbbb"}, at_work=True) == 0
    assert evict(tmp_path, most_mib=1, needed={"bbbbbbbb"}, at_work=False) == 1
    assert sorted(one.name for one in in_cache(tmp_path)) == ["bbbbbbbb", "cccccccc.1.part"]


def test_a_separation_is_never_half_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A removal that breaks off leaves it under a name that no job has; the next one removes that too."""
    _cache(tmp_path)
    with monkeypatch.context() as broken:
        broken.setattr(shutil, "rmtree", _break_off)
        with pytest.raises(OSError, match="input/output"):
            evict(tmp_path, most_mib=4, needed=(), at_work=False)
    assert not (tmp_path / "aaaaaaaa").exists()
    assert (tmp_path / f"aaaaaaaa{PART}").is_dir()
    _file(tmp_path / "aaaaaaaa" / "C.npy", 3, 1)  # prepared again
    os.utime(tmp_path / "aaaaaaaa", (1, 1))
    assert evict(tmp_path, most_mib=4, needed=(), at_work=False) > 0
    assert not list(tmp_path.glob("aaaaaaaa*"))


def _break_off(folder: Path) -> None:
    raise OSError(errno.EIO, f"input/output error in {folder}")
