"""How long days stay under done/."""

from datetime import date, timedelta
from pathlib import Path

from hypothesis import given
from hypothesis import strategies as st

from filmhand.service import retention

TODAY = date(2031, 5, 4)
_DAYS = st.dictionaries(st.integers(-40, 3).map(lambda ago: TODAY + timedelta(days=ago)), st.integers(0, 100), max_size=12)


@given(days=_DAYS, keep_days=st.integers(0, 30), keep_bytes=st.integers(0, 400))
def test_the_oldest_days_go_and_today_never(days: dict[date, int], keep_days: int, keep_bytes: int) -> None:
    """What goes is older than all that stays; nothing too old stays; the rest fits, or is today; none too many."""
    going = retention.choose(days, today=TODAY, keep_days=keep_days, keep_bytes=keep_bytes)
    stays = {day: size for day, size in days.items() if day not in going}
    assert all(day < TODAY for day in going)
    assert not going or not stays or max(going) < min(stays)
    if keep_days:
        assert all((TODAY - day).days <= keep_days for day in stays)
    if keep_bytes:
        assert sum(stays.values()) <= keep_bytes or min(stays) >= TODAY
    if going and not (keep_days and (TODAY - going[-1]).days > keep_days):
        assert sum(stays.values()) + days[going[-1]] > keep_bytes > 0


def test_for_ever_is_for_ever() -> None:
    """0 days and 0 bytes remove nothing, however old and large."""
    assert retention.choose({date(1990, 1, 1): 1 << 50}, today=TODAY, keep_days=0, keep_bytes=0) == ()


def _day(done: Path, name: str, *, files: int = 1) -> Path:
    (done / name).mkdir(parents=True)
    for number in range(files):
        (done / name / f"{number}.png").write_bytes(bytes(10))
    return done / name


def test_days_are_measured_a_few_at_a_time(tmp_path: Path) -> None:
    """What is no day, and what a link leads to, is not looked at; a day that changed is measured anew."""
    for name in ("2031-05-01", "2031-05-02", "2031-02-30", "papers"):
        _day(tmp_path, name, files=2)
    (tmp_path / "2031-05-03").symlink_to(tmp_path / "papers")
    first = retention.look(tmp_path, {}, most=1)
    assert sorted(first) == [date(2031, 5, 1), date(2031, 5, 2)]
    assert sorted(one.size_bytes or 0 for one in first.values()) == [0, 20]
    second = retention.look(tmp_path, first, most=1)
    assert [one.size_bytes for one in second.values()] == [20, 20]
    (tmp_path / "2031-05-02" / "more.png").write_bytes(bytes(5))
    assert retention.look(tmp_path, second, most=1)[date(2031, 5, 2)].size_bytes == 25


def test_a_day_goes_from_view_at_once_and_then_bit_by_bit(tmp_path: Path) -> None:
    """Five hundred files a step; the folders that a person made in it go too, and links without what they lead to."""
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "kept.txt").write_text("kept", "utf-8")
    done = tmp_path / "done"
    day = _day(done, "2031-05-01", files=700)
    (day / "inner").mkdir()
    (day / "link").symlink_to(outside)
    _day(done, "2031-05-02")
    retention.set_going(done, date(2031, 5, 1))
    assert sorted(retention.look(done, {}, most=0)) == [date(2031, 5, 2)]
    assert retention.remove_some(done)
    assert 0 < len(list(done.glob("*-2031-05-01/*"))) <= 203
    assert retention.remove_some(done)
    assert not retention.remove_some(done)
    assert [path.name for path in done.iterdir()] == ["2031-05-02"]
    assert (outside / "kept.txt").read_text("utf-8") == "kept"
