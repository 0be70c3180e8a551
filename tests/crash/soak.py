"""A long night in half an hour: thousands of arrivals, kills, bad files, a controller, a disk that fills; nothing may be lost.

    PYTHONPATH=tests python tests/crash/soak.py [--arrivals 2000] [--minutes 30] [--kill-every 20] [--seed 1] [--into FOLDER]

`filmhand run` works in a shop on a disk of its own (a tmpfs in a namespace of mounts). Artworks, archives and documents come at
random instants, one in ten of them bad: cut short, no picture at all, or opaque. The service is killed (SIGKILL) at random and
started again as a service manager does; sheets are taken out of the output folder; at a third and at two thirds of the time the
disk is filled to the last byte, customers' copies fail, and half a minute later there is room again. In the end all is let come
to rest, and the six invariants are looked at as after a single kill (harness.py). Memory and open files of the service and its
children are noted every two seconds: soak.csv and soak.svg in the folder. Ends with 1 where an invariant does not hold.
"""

import argparse
import csv
import os
import random
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import time
from contextlib import suppress
from dataclasses import astuple, dataclass, field, fields
from pathlib import Path

from harness import Customer, archive, document, journal_rows, take_away, violations
from soak_plot import Sample, plot

from full_disk import fill, make_room
from processes import children_of
from small_disk import command_on_small_disk
from small_shop import RULE, filmhand, new_shop, picture

DISK_MIB = 3072
FULL_S = 30.0
SAMPLE_S, TAKE_S, REST_S = 2.0, 7.0, 600.0
_INSIDE = "FILMHAND_SOAK_DISK"
_RULE = RULE.replace('after = "1 s"', 'after = "45 s"')
_UNFINISHED = "SELECT count(*) AS n FROM job WHERE stage NOT IN ('archived', 'held', 'rejected')"


@dataclass
class Night:
    """What goes on: the shop, its customer, the service's process, and what was seen of it."""

    shop: Path
    taken: Path
    customer: Customer
    dice: random.Random
    began: float = field(default_factory=time.monotonic)
    service: subprocess.Popen[bytes] | None = None
    kills: int = 0
    own_ends: list[int] = field(default_factory=list)
    """Exit codes of ends that nobody asked for."""
    refused: int = 0
    """Copies that a full disk did not take; they come again."""
    samples: list[Sample] = field(default_factory=list)

    @property
    def now(self) -> float:
        """Seconds since it began."""
        return time.monotonic() - self.began

    def start(self) -> None:
        """Start the service, as a manager does that restarts it whenever it ends."""
        if self.service is not None and (code := self.service.poll()) is not None:
            self.own_ends.append(code)
            self.service = None
        if self.service is None:
            command = [sys.executable, "-m", "filmhand", "run", str(self.shop)]
            self.service = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)

    def kill(self) -> None:
        """SIGKILL, at whatever it is about."""
        if self.service is not None:
            self.service.kill()
            self.service.wait()
            self.service, self.kills = None, self.kills + 1

    def sample(self) -> None:
        """Note memory, open files, children and what is unfinished."""
        if self.service is None or self.service.poll() is not None:
            return
        # It may end while it is looked at; on a full disk SQLite may have no room to open the journal for us.
        with suppress(OSError, ValueError, sqlite3.OperationalError):
            pid = self.service.pid
            children = children_of(pid)
            unfinished = journal_rows(self.shop / ".filmhand" / "journal.sqlite", _UNFINISHED)[0]["n"]
            opened = len(list(Path(f"/proc/{pid}/fd").iterdir()))
            free = shutil.disk_usage(self.shop).free >> 20
            memory = _mib(pid), sum(_mib(child) for child in children)
            self.samples.append(Sample(self.now, *memory, opened, len(children), unfinished, free, self.kills))


def _mib(pid: int) -> float:
    pages = int(Path(f"/proc/{pid}/statm").read_text("ascii").split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / (1 << 20)


def arrive(night: Night, number: int) -> None:
    """One arrival: nine of ten are good; OSError where the disk does not take it."""
    dice, customer = random.Random(number), night.customer  # the same again where the disk refused it
    copies = dice.choice((1, 1, 1, 2, 3))
    name, art = f"S{number}_{dice.choice((20, 30, 40))}mm_x{copies}", picture(number)
    match dice.choices(("art", "archive", "document", "cut", "no picture", "opaque"), (80, 5, 5, 4, 3, 3))[0]:
        case "art":
            customer.drop(f"{name}.png", art, copies=copies)
        case "archive":
            second = picture(number, size=(150, 150))
            customer.drop_container(f"{name}.zip", archive(art, second), [(art, copies), (second, copies)])
        case "document":
            pages = document(2, tint=0.2 + number * 1e-4)
            customer.drop_container(f"{name}.pdf", pages, [(pages, copies)] * 2)
        case "cut":
            customer.drop(f"{name}.png", art[: dice.randrange(60, len(art) - 20)], copies=copies)
        case "no picture":
            customer.drop(f"{name}.png", dice.randbytes(5000), copies=copies)
        case _:
            customer.drop(f"{name}.png", picture(number, ground=(255, 255, 255, 255)), copies=copies)


def run(night: Night, *, arrivals: int, seconds: float, kill_every: float) -> None:
    """The night itself, until the last arrival is in; then the filler goes and nothing more is killed."""
    disk = night.shop.parent
    due = sorted(night.dice.uniform(0, seconds) for _ in range(arrivals))
    fulls = [(seconds * share, seconds * share + min(FULL_S, seconds / 6)) for share in (1 / 3, 2 / 3)]
    next_kill, next_sample, next_take, number = kill_every, 0.0, TAKE_S, 0
    while night.now < seconds or number < arrivals:
        now = night.now
        if any(start <= now < end for start, end in fulls):
            fill(disk)
        else:
            make_room(disk)
        while number < arrivals and due[number] <= now:
            try:
                arrive(night, number)
            except OSError:
                night.refused += 1
                break
            number += 1
        if now >= next_kill:
            night.kill()
            next_kill = now + night.dice.uniform(0.5, 1.5) * kill_every
        night.start()
        if now >= next_take:
            take_away(night.shop, night.taken)
            next_take = now + TAKE_S
        if now >= next_sample:
            night.sample()
            next_sample = now + SAMPLE_S
        time.sleep(0.1)
    make_room(disk)


def come_to_rest(night: Night) -> bool:
    """Until nothing waits in the hot folder and all jobs are finished; False where that takes too long."""
    ends = night.now + REST_S
    while night.now < ends:
        night.start()
        night.sample()
        waiting = [path for path in night.customer.inbox.iterdir() if not path.name.startswith(".")]
        if not waiting and not journal_rows(night.shop / ".filmhand" / "journal.sqlite", _UNFINISHED)[0]["n"]:
            return True
        time.sleep(SAMPLE_S)
    return False


def report(night: Night, folder: Path, *, rested: bool) -> bool:
    """Write the samples and their picture, say what was found; whether all holds."""
    with (folder / "soak.csv").open("w", newline="", encoding="ascii") as file:
        rows = csv.writer(file)
        rows.writerow(one.name for one in fields(Sample))
        rows.writerows(astuple(sample) for sample in night.samples)
    (folder / "soak.svg").write_text(plot(night.samples), "utf-8")
    stages = journal_rows(
        night.shop / ".filmhand" / "journal.sqlite", "SELECT role, stage, count(*) AS n FROM job GROUP BY role, stage"
    )
    sheets = len(list(night.taken.glob("*/ticket.json")))
    print(f"{len(night.customer.dropped)} files dropped ({night.refused} copies refused by a full disk and sent again)")
    print(f"{night.kills} kills; ends that nobody asked for: {night.own_ends or 'none'}; {night.now / 60:.1f} minutes to rest")
    jobs = ", ".join(f"{row['n']} {row['role']} {row['stage']}" for row in stages)
    print(f"jobs: {jobs}; {sheets} sheets taken")
    third = len(night.samples) // 3
    for name, part in (("first", night.samples[:third]), ("last", night.samples[-third:])):
        memory, opened = max(one.service_mib for one in part), max(one.open_files for one in part)
        print(f"{name} third: at most {memory:.0f} MiB and {opened} open files in the service")
    found = list(violations(night.shop, night.taken, night.customer, at_rest=True))
    print(*(found or ["all six invariants hold"]), sep="\n")
    return rested and not found


def main() -> None:
    """Mount, run, look."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--arrivals", type=int, default=2000)
    parser.add_argument("--minutes", type=float, default=30)
    parser.add_argument("--kill-every", type=float, default=20, help="seconds, on the average")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--into", type=Path, help="where the samples and their picture go")
    chosen = parser.parse_args()
    disk = os.environ.get(_INSIDE)
    if disk is None:
        with tempfile.TemporaryDirectory(prefix="filmhand-soak-") as place:
            command = command_on_small_disk(Path(place), DISK_MIB, sys.executable, *sys.argv)
            sys.exit(subprocess.run(command, env={**os.environ, _INSIDE: place}, check=False).returncode)
    shop = new_shop(Path(disk) / "shop", rule=_RULE)
    filmhand("batch", shop)
    night = Night(shop, Path(disk) / "taken", Customer(shop), random.Random(chosen.seed))
    run(night, arrivals=chosen.arrivals, seconds=60 * chosen.minutes, kill_every=chosen.kill_every)
    rested = come_to_rest(night)
    if not rested:
        print("it did not come to rest")
    assert night.service is not None
    night.service.terminate()
    code = night.service.wait(60)
    take_away(shop, night.taken)
    into = chosen.into or Path.cwd()
    into.mkdir(parents=True, exist_ok=True)
    sys.exit(not report(night, into, rested=rested) or code)


if __name__ == "__main__":
    main()
