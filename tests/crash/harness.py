"""Killing a real batch at a chosen system call, restarting it, and looking whether the six invariants hold (docs/internals.md).

strace's fault injection (`-e inject=CALL:signal=KILL:when=N`, strace(1)) kills the program before its N-th call of a kind. Those
that touch the shop are learnt from a first, untouched run. Only the main thread is followed: it alone owns the journal and moves
files; what happens in child processes counts only once it has taken it in.
"""

import json
import re
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

from small_shop import RULE, new_shop, picture

CALLS = (
    "openat,rename,renameat,renameat2,unlink,unlinkat,rmdir,mkdir,mkdirat,link,linkat,"
    "fsync,fdatasync,write,pwrite64,ftruncate,fallocate,copy_file_range,sendfile"
)
_LINE = re.compile(r"^(?P<call>\w+)\(")
_RULE = RULE.replace('max_length = "300 mm"', 'max_length = "150 mm"')


@dataclass(frozen=True)
class Point:
    """Before which call of a kind the program is killed."""

    call: str
    number: int
    line: str
    """The call as strace showed it in the untouched run."""


class Customer:
    """Drops files, and knows what was dropped and how many copies were ordered."""

    def __init__(self, shop: Path) -> None:
        self.inbox = shop / "in" / "small"
        self.dropped: dict[str, int] = {}

    def drop(self, name: str, data: bytes, *, copies: int) -> None:
        """Put a file in the hot folder as a customer's program would: under another name first."""
        part = self.inbox / f"{name}.part"
        part.write_bytes(data)
        part.rename(self.inbox / name)
        self.dropped[sha256(data).hexdigest()] = copies

    def drop_four(self) -> None:
        """Two that print, one that is held (opaque), one that goes back (cut short)."""
        self.drop("A1_40mm_x3.png", picture(1), copies=3)
        self.drop("A2_30mm_x2.png", picture(2), copies=2)
        self.drop("A3_30mm_x2.png", picture(3, ground=(255, 255, 255, 255)), copies=2)
        self.drop("A4_30mm_x1.png", picture(4)[:-400], copies=1)

    def send_again(self, number: int, *, owned: set[str]) -> None:
        """The same name once more, with other content. A file that was not ours yet is replaced by it: as if it never was."""
        before = self.inbox / "A1_40mm_x3.png"
        if before.exists() and (digest := sha256(before.read_bytes()).hexdigest()) not in owned:
            del self.dropped[digest]
        self.drop(before.name, picture(10 + number), copies=3)


def make_shop(root: Path) -> Path:
    """A shop with one small rule, its tables and tiles not made yet, nothing dropped."""
    return new_shop(root, rule=_RULE)


def run_batch(shop: Path, *prefix: str) -> int:
    """A batch, under whatever program; its exit code (negative: killed)."""
    command = [*prefix, sys.executable, "-m", "filmhand", "batch", str(shop)]
    return subprocess.run(command, capture_output=True, timeout=120, check=False).returncode


def kill_points(shop: Path, trace: Path) -> list[Point]:
    """Run a batch untouched, and list every call of its main thread that touches the shop, in order."""
    code = run_batch(shop, "strace", "-qq", "-y", "-s", "200", "-e", f"trace={CALLS}", "-e", "signal=none", "-o", str(trace))
    assert code == 0
    counts: dict[str, int] = {}
    points = []
    for line in trace.read_text("utf-8", "replace").splitlines():
        match = _LINE.match(line)
        if match is None:
            continue
        call = match["call"]
        counts[call] = counts.get(call, 0) + 1
        if str(shop) in line:
            points.append(Point(call, counts[call], line))
    return points


def run_killed(shop: Path, point: Point) -> int:
    """A batch that is killed before one call."""
    inject = f"inject={point.call}:signal=KILL:when={point.number}"
    return run_batch(shop, "strace", "-qq", "-e", f"trace={point.call}", "-e", "signal=none", "-e", inject, "-o", "/dev/null")


def take_away(shop: Path, taken: Path) -> None:
    """What a print controller does: it takes delivered sheets out of the output folder."""
    taken.mkdir(exist_ok=True)
    for sheet in (shop / "out").glob("small/*"):
        assert not (taken / sheet.name).exists(), f"{sheet.name} was handed over twice"
        sheet.rename(taken / sheet.name)


def violations(shop: Path, taken: Path, customer: Customer, *, at_rest: bool) -> Iterator[str]:
    """What is wrong with the shop now, in words; nothing when the invariants hold. `at_rest`: a batch ended by itself."""
    journal = shop / ".filmhand" / "journal.sqlite"
    rows = _jobs(journal)
    yield from _lost(shop, customer, rows)
    yield from _incomplete(shop, taken)
    if not rows:
        return
    yield from _placed_twice(journal)
    if at_rest:
        yield from _not_once(shop, taken, journal)
        yield from _not_conserved(customer, rows, shop, taken)


def owned(shop: Path) -> set[str]:
    """Digests of the files that are ours: their rows are committed."""
    return {row["digest"] for row in _jobs(shop / ".filmhand" / "journal.sqlite")}


def _jobs(journal: Path) -> list[sqlite3.Row]:
    """All jobs; none where the program was killed before it had made the journal."""
    if not journal.exists() or not _rows(journal, "SELECT 1 FROM sqlite_master WHERE name = 'job'"):
        return []
    return _rows(journal, "SELECT id, digest, stage, copies, place FROM job")


def _lost(shop: Path, customer: Customer, rows: list[sqlite3.Row]) -> Iterator[str]:
    """1: the source is in the hot folder (or aside in it), or a durable copy and its committed row exist."""
    hot = {sha256(path.read_bytes()).hexdigest() for path in (shop / "in").rglob("*") if path.is_file()}
    kept: dict[str, set[str]] = {}
    for parent in ("done", "held", "rejects", ".filmhand/spool"):
        for path in (shop / parent).rglob("*"):
            if path.is_file():
                kept.setdefault(sha256(path.read_bytes()).hexdigest(), set()).add(str(path))
    owned = {row["digest"] for row in rows}
    for digest in customer.dropped:
        if digest not in hot and not (digest in owned and digest in kept):
            yield f"1 no loss: {digest[:8]} is in no hot folder and not ours"


def _incomplete(shop: Path, taken: Path) -> Iterator[str]:
    """3: a name visible in out/ was whole."""
    for sheet in (*(shop / "out").glob("small/*"), *taken.glob("*")):
        ticket = json.loads((sheet / "ticket.json").read_bytes())
        for name, digest in ticket["digests"].items():
            if sha256((sheet / name).read_bytes()).hexdigest() != digest:
                yield f"3 complete: {sheet.name}/{name} is not what was read back"


def _placed_twice(journal: Path) -> Iterator[str]:
    """2: each copy on at most one live sheet."""
    query = "SELECT job, copy, count(*) AS n FROM placement WHERE live GROUP BY job, copy HAVING n > 1"
    for row in _rows(journal, query):
        yield f"2 one place: copy {row['copy']} of {row['job']} lies on {row['n']} sheets"


def _not_once(shop: Path, taken: Path, journal: Path) -> Iterator[str]:
    """4: what the journal says was delivered was, once; nothing stays in staging."""
    delivered = sorted(row["name"] for row in _rows(journal, "SELECT name FROM sheet WHERE stage = 'delivered'"))
    visible = sorted(path.name for path in (*(shop / "out").glob("small/*"), *taken.glob("*")))
    if delivered != visible:
        yield f"4 once: delivered {delivered}, handed over {visible}"
    staged = [path.name for path in (shop / "out" / ".filmhand-staging").glob("*")]
    if staged:
        yield f"4 once: still staged {staged}"


def _not_conserved(customer: Customer, rows: list[sqlite3.Row], shop: Path, taken: Path) -> Iterator[str]:
    """5 and 6: every dropped file became one job; copies printed, held and rejected are those ordered."""
    jobs = sorted(row["digest"] for row in rows)
    if jobs != sorted(customer.dropped):
        yield f"6 conservation: {len(customer.dropped)} files became {len(jobs)} jobs"
    printed: dict[str, list[int]] = {}
    for sheet in (*(shop / "out").glob("small/*"), *taken.glob("*")):
        for copy in json.loads((sheet / "ticket.json").read_bytes())["placements"]:
            printed.setdefault(copy["job"], []).append(copy["copy"])
    for row in rows:
        ordered = customer.dropped[row["digest"]]
        expected = list(range(1, ordered + 1)) if row["stage"] == "archived" else []
        if row["stage"] not in ("archived", "held", "rejected"):
            yield f"5 fencing: {row['id']} ended as {row['stage']}"
        if sorted(printed.get(row["id"], [])) != expected:
            yield f"6 conservation: {row['id']} ({row['stage']}) printed {printed.get(row['id'])}, ordered {ordered}"


def _rows(journal: Path, query: str) -> list[sqlite3.Row]:
    connection = sqlite3.connect(journal)
    connection.row_factory = sqlite3.Row
    try:
        return connection.execute(query).fetchall()
    finally:
        connection.close()
