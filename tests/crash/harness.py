"""Killing a real batch at a chosen system call, restarting it, and looking whether the six invariants hold (docs/internals.md).

strace's fault injection (`-e inject=CALL:signal=KILL:when=N`, strace(1)) kills the program before its N-th call of a kind, or
(`error=ENOSPC`) lets that call fail. Those that touch the shop are learnt from a first, untouched run. Only the main thread is
followed: it alone owns the journal and moves files; what happens in child processes counts only once it has taken it in.
"""

import io
import json
import re
import shutil
import sqlite3
import subprocess
import sys
import zipfile
from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from hashlib import sha256
from pathlib import Path

import pikepdf
import pytest

from small_shop import RULE, new_shop, picture

CALLS = (
    "openat,rename,renameat,renameat2,unlink,unlinkat,rmdir,mkdir,mkdirat,link,linkat,"
    "fsync,fdatasync,write,pwrite64,ftruncate,fallocate,copy_file_range,sendfile"
)
_LINE = re.compile(r"^(?P<call>\w+)\(")
_MAKING = ("ENOSPC", "EDQUOT", "EIO", "ESTALE")
_MOVING = ("EBUSY", "EIO", "ESTALE", "ENOSPC", "EDQUOT")
ERRORS = {
    **dict.fromkeys(("write", "pwrite64", "ftruncate", "fallocate", "copy_file_range", "sendfile", "mkdir", "mkdirat"), _MAKING),
    **dict.fromkeys(("rename", "renameat", "renameat2", "link", "linkat", "openat"), _MOVING),
    **dict.fromkeys(("unlink", "unlinkat", "rmdir"), ("EBUSY", "EIO", "ESTALE")),
    **dict.fromkeys(("fsync", "fdatasync"), ("EIO", "ENOSPC", "EDQUOT", "ESTALE")),
}
"""What each call may say where a disk is full, broken, over its quota, or a server lost it (the calls' own manual pages)."""
needs_strace = pytest.mark.skipif(shutil.which("strace") is None, reason="needs strace (Debian strace)")
PUBLISHED_BY_COPY = (str(Path(__file__).with_name("publish_by_copy.py")),)
"""What stands for `-m filmhand` in the negative control."""
_RULE = RULE.replace('max_length = "300 mm"', 'max_length = "150 mm"')


@dataclass(frozen=True)
class Point:
    """Before which call of a kind the program is killed."""

    call: str
    number: int
    line: str
    """The call as strace showed it in the untouched run."""

    @property
    def changes_nothing(self) -> bool:
        """Whether it opens a file to read it: killed before that, a shop is as it is before the change that comes next."""
        return self.call == "openat" and "O_RDONLY" in self.line and "O_CREAT" not in self.line


class Customer:
    """Drops files, and knows what was dropped and which jobs that must become."""

    def __init__(self, shop: Path) -> None:
        self.inbox = shop / "in" / "small"
        self.dropped: set[str] = set()
        """Digests of the files in the hot folder."""
        self.ordered: Counter[tuple[str, int]] = Counter()
        """How many jobs to be printed there must be of each content, with so many copies each."""
        self.taken_apart: set[str] = set()
        """Digests of the files that become no print themselves: archives, documents of several pages, order lists."""

    def drop(self, name: str, data: bytes, *, copies: int) -> None:
        """Put an artwork in the hot folder."""
        self.dropped.add(self._put(name, data))
        self.ordered[digest_of(data), copies] += 1

    def drop_container(self, name: str, data: bytes, holds: Iterable[tuple[bytes, int]]) -> None:
        """Put a file there that becomes several jobs: their contents and copies."""
        digest = self._put(name, data)
        self.dropped.add(digest)
        self.taken_apart.add(digest)
        self.ordered.update((digest_of(content), copies) for content, copies in holds)

    def drop_all(self) -> None:
        """Two that print, one held (opaque), one sent back (cut); a list that orders a file twice; an archive; a document."""
        self.drop("A1_40mm_x3.png", picture(1), copies=3)
        self.drop("A2_30mm_x2.png", picture(2), copies=2)
        self.drop("A3_30mm_x2.png", picture(3, ground=(255, 255, 255, 255)), copies=2)
        self.drop("A4_30mm_x1.png", picture(4)[:-400], copies=1)
        self.drop_container("list.csv", b"file,copies,width\nl.png,2,30 mm\nl.png,1,20 mm\n", [(picture(5), 2), (picture(5), 1)])
        self.dropped.add(self._put("l.png", picture(5)))
        self.drop_container("A6_30mm_x1.zip", archive(picture(6), picture(7)), [(picture(6), 1), (picture(7), 1)])
        pages = document(2)
        self.drop_container("A7_30mm_x1.pdf", pages, [(pages, 1), (pages, 1)])

    def send_again(self, number: int, *, owned: set[str]) -> None:
        """The same name once more, with other content. A file that was not ours yet is replaced by it: as if it never was."""
        before = self.inbox / "A1_40mm_x3.png"
        if before.exists() and (digest := digest_of(before.read_bytes())) not in owned:
            self.dropped.discard(digest)
            del self.ordered[digest, 3]
        self.drop(before.name, picture(10 + number), copies=3)

    def _put(self, name: str, data: bytes) -> str:
        """As a customer's program would: under another name first."""
        part = self.inbox / f"{name}.part"
        part.write_bytes(data)
        part.rename(self.inbox / name)
        return digest_of(data)


def digest_of(data: bytes) -> str:
    """SHA-256 in hexadecimal."""
    return sha256(data).hexdigest()


def archive(*pictures: bytes) -> bytes:
    """A ZIP of pictures."""
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as opened:
        for number, content in enumerate(pictures):
            opened.writestr(f"{number}.png", content)
    return buffer.getvalue()


def document(pages: int, *, tint: float = 0.2) -> bytes:
    """A PDF whose pages hold two squares each, corner to corner."""
    made = pikepdf.new()
    for page in range(pages):
        made.add_blank_page(page_size=(113, 113))
        made.pages[page].Contents = made.make_stream(f"0.{page + 3} {tint:.6f} 0.8 rg 10 10 50 50 re 55 55 48 48 re f".encode())
    buffer = io.BytesIO()
    made.save(buffer, deterministic_id=True)
    return buffer.getvalue()


def make_shop(root: Path) -> Path:
    """A shop with one small rule, its tables and tiles not made yet, nothing dropped."""
    return new_shop(root, rule=_RULE)


def make_warm_shop(folder: Path) -> Path:
    """The same with its tables and tiles made, by a batch of all files in a copy of it."""
    shop, warm = make_shop(folder / "template"), folder / "warm"
    shutil.copytree(shop, warm)
    Customer(warm).drop_all()
    assert run_batch(warm) == 0
    shutil.copytree(warm / ".filmhand" / "cache", shop / ".filmhand" / "cache", dirs_exist_ok=True)
    return shop


def run_batch(shop: Path, *prefix: str, program: Sequence[str] = ("-m", "filmhand")) -> int:
    """A batch, under whatever program; its exit code (negative: killed)."""
    command = [*prefix, sys.executable, *program, "batch", str(shop)]
    return subprocess.run(command, capture_output=True, timeout=240, check=False).returncode


def kill_points(shop: Path, trace: Path, *, program: Sequence[str] = ("-m", "filmhand")) -> list[Point]:
    """Run a batch untouched, and list every call of its main thread that touches the shop, in order."""
    tracing = ("strace", "-qq", "-y", "-s", "200", "-e", f"trace={CALLS}", "-e", "signal=none", "-o", str(trace))
    code = run_batch(shop, *tracing, program=program)
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


def run_killed(shop: Path, point: Point, *, program: Sequence[str] = ("-m", "filmhand")) -> int:
    """A batch that is killed before one call."""
    return _run_injected(shop, point, "signal=KILL", program)


def run_failing(shop: Path, point: Point, error: str) -> int:
    """A batch one of whose calls is not done, and says why."""
    return _run_injected(shop, point, f"error={error}", ("-m", "filmhand"))


def _run_injected(shop: Path, point: Point, what: str, program: Sequence[str]) -> int:
    inject = f"inject={point.call}:{what}:when={point.number}"
    tracing = ("strace", "-qq", "-e", f"trace={point.call}", "-e", "signal=none", "-e", inject, "-o", "/dev/null")
    return run_batch(shop, *tracing, program=program)


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


def journal_rows(journal: Path, query: str) -> list[sqlite3.Row]:
    """What a query of a journal yields."""
    connection = sqlite3.connect(journal)
    connection.row_factory = sqlite3.Row
    try:
        return connection.execute(query).fetchall()
    finally:
        connection.close()


def _jobs(journal: Path) -> list[sqlite3.Row]:
    """All jobs; none where the program was killed before it had made the journal, step by step."""
    if not journal.exists() or not journal_rows(journal, "SELECT 1 FROM pragma_table_info('job') WHERE name = 'role'"):
        return []
    return journal_rows(journal, "SELECT id, digest, stage, copies, role FROM job")


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
    for digest in owned:
        if digest not in kept and digest not in hot:
            yield f"1 no loss: {digest[:8]} is ours and lies nowhere"


def _incomplete(shop: Path, taken: Path) -> Iterator[str]:
    """3: a name visible in out/ was whole."""
    for sheet in (*(shop / "out").glob("small/*"), *taken.glob("*")):
        if not (sheet / "ticket.json").is_file():
            yield f"3 complete: {sheet.name} has no ticket"
            continue
        try:
            ticket = json.loads((sheet / "ticket.json").read_bytes())
        except ValueError:
            yield f"3 complete: the ticket of {sheet.name} is cut short"
            continue
        for name, digest in ticket["digests"].items():
            if not (sheet / name).is_file() or sha256((sheet / name).read_bytes()).hexdigest() != digest:
                yield f"3 complete: {sheet.name}/{name} is not what was read back"


def _placed_twice(journal: Path) -> Iterator[str]:
    """2: each copy on at most one live sheet."""
    query = "SELECT job, copy, count(*) AS n FROM placement WHERE live GROUP BY job, copy HAVING n > 1"
    for row in journal_rows(journal, query):
        yield f"2 one place: copy {row['copy']} of {row['job']} lies on {row['n']} sheets"


def _not_once(shop: Path, taken: Path, journal: Path) -> Iterator[str]:
    """4: what the journal says was delivered was, once; nothing stays in staging."""
    delivered = sorted(row["name"] for row in journal_rows(journal, "SELECT name FROM sheet WHERE stage = 'delivered'"))
    visible = sorted(path.name for path in (*(shop / "out").glob("small/*"), *taken.glob("*")))
    if delivered != visible:
        yield f"4 once: delivered {delivered}, handed over {visible}"
    staged = [path.name for path in (shop / "out" / ".filmhand-staging").glob("*")]
    if staged:
        yield f"4 once: still staged {staged}"


def _not_conserved(customer: Customer, rows: list[sqlite3.Row], shop: Path, taken: Path) -> Iterator[str]:
    """5 and 6: every dropped file became one job; copies printed, held and rejected are those ordered."""
    prints = [row for row in rows if row["role"] == "artwork"]
    made = Counter((row["digest"], row["copies"]) for row in prints)
    if made != customer.ordered:
        lost, extra = customer.ordered - made, made - customer.ordered
        yield f"6 conservation: ordered and not become jobs {dict(lost)}, jobs not ordered {dict(extra)}"
    apart = sorted(row["digest"] for row in rows if row["role"] != "artwork")
    if apart != sorted(customer.taken_apart):
        yield f"6 conservation: {len(customer.taken_apart)} containers became {len(apart)}"
    printed: dict[str, list[int]] = {}
    for sheet in (one.parent for folder in (shop / "out" / "small", taken) for one in folder.glob("*/ticket.json")):
        for copy in json.loads((sheet / "ticket.json").read_bytes())["placements"]:
            printed.setdefault(copy["job"], []).append(copy["copy"])
    for row in rows:
        is_printed = row["stage"] == "archived" and row["role"] == "artwork"
        expected = list(range(1, row["copies"] + 1)) if is_printed else []
        if row["stage"] not in ("archived", "held", "rejected"):
            yield f"5 fencing: {row['id']} ended as {row['stage']}"
        if sorted(printed.get(row["id"], [])) != expected:
            yield f"6 conservation: {row['id']} ({row['stage']}) printed {printed.get(row['id'])}, ordered {row['copies']}"
