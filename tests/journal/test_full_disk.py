"""The journal on a disk that has no byte left."""

from pathlib import Path

from filmhand.journal.ballast import Ballast
from small_disk import run_on_small_disk

_COMMITS = """
import sqlite3
from filmhand.errors import JournalError
from filmhand.journal.ballast import Ballast
from filmhand.journal.journal import Journal
ballast = Ballast(DISK / "ballast", 1 << 20)
if sys.argv[2] == "with":
    assert ballast.make()
journal = Journal.open(DISK / "journal.sqlite", ballast)
fill()
assert shutil.disk_usage(DISK).free == 0
committed = 0
try:
    for number in range(60):
        with journal.commit() as cursor:
            cursor.execute("INSERT INTO rule_text VALUES (?, ?)", (f"{number}", "x" * 2000))
            (count,) = cursor.execute("SELECT count(*) FROM rule_text").fetchone()
            cursor.executemany("INSERT INTO rule_text VALUES (?, ?)", ((f"{number}.{n}", f"{count}") for n in range(2)))
        committed += 1
except JournalError as problem:
    print(problem)
print(committed, ballast.is_there)
journal.close()
other = sqlite3.connect(f"file:{DISK}/journal.sqlite?mode=ro", uri=True)
rows = other.execute("SELECT count(*), count(DISTINCT text) FROM rule_text").fetchone()
print(*rows, *other.execute("PRAGMA integrity_check").fetchone())
"""


def test_a_full_disk_costs_no_transaction_while_there_is_ballast(tmp_path: Path) -> None:
    """Sixty transactions on a tmpfs with 0 bytes free (statvfs): all are whole, SQLite's own check finds nothing."""
    assert run_on_small_disk(tmp_path, 3, _COMMITS, "with").split("\n")[:2] == ["60 False", "180 61 ok"]


def test_without_ballast_the_same_disk_ends_it(tmp_path: Path) -> None:
    """The negative control: nothing of the transaction that found no room stays."""
    said = run_on_small_disk(tmp_path, 3, _COMMITS, "without").split("\n")
    assert "database or disk is full" in said[0]
    committed = int(said[1].split()[0])
    assert committed < 60
    assert said[2].split()[0] == str(3 * committed)


_LARGE = """
from filmhand.journal.ballast import Ballast
from filmhand.journal.journal import Journal
ballast = Ballast(DISK / "ballast", 2 << 20)
assert ballast.make()
journal = Journal.open(DISK / "journal.sqlite", ballast)
journal.rows("PRAGMA cache_size = 10")
fill()
with journal.commit() as cursor:
    for number in range(200):
        cursor.execute("INSERT INTO rule_text VALUES (?, ?)", (f"{number}", "x" * 4000))
print(len(journal.rows("SELECT 1 FROM rule_text")), ballast.is_there)
"""


def test_room_may_run_out_in_the_middle_of_a_transaction(tmp_path: Path) -> None:
    """More rows than SQLite keeps in memory (cache_size 10 pages) are written before the commit: they are said again."""
    assert run_on_small_disk(tmp_path, 5, _LARGE).split() == ["200", "False"]


_NO_ROOM = """
from filmhand.journal.ballast import Ballast
ballast = Ballast(DISK / "ballast", 1 << 20)
fill(leave=1 << 19)
print(ballast.make(), sorted(path.name for path in DISK.iterdir()))
make_room()
print(ballast.make(), shutil.disk_usage(DISK).free)
"""


def test_ballast_is_made_once_there_is_room(tmp_path: Path) -> None:
    """Where there is not, nothing half made takes what room there is. Made, it takes its size (statvfs)."""
    no, yes = run_on_small_disk(tmp_path, 2, _NO_ROOM).splitlines()
    assert no == "False ['filler']"
    assert yes == f"True {1 << 20}"


def test_ballast_is_spent_once(tmp_path: Path) -> None:
    """The second time there is nothing to free."""
    ballast = Ballast(tmp_path / "ballast", 100)
    assert not ballast.spend()
    assert ballast.make()
    assert ballast.path.stat().st_size == 100
    assert (ballast.spend(), ballast.spend(), ballast.is_there) == (True, False, False)
