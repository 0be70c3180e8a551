"""Files of other projects' test suites, dropped at once: each must end in exactly one folder, with a note if it is not printed.

    python tests/bench/corpus.py FOLDER...

Made for the picture tests of image libraries, whose folders hold broken, hostile and odd files by the hundred (Pillow's
Tests/images, qpdf's and libtiff's test folders). Prints what became of them, how long it took, and what went wrong.
"""

import argparse
import hashlib
import json
import shutil
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

_RULE = """
title = "Files of other test suites"
garment = "#1b1b1d"
[size]
width = "30 mm"
max = ["60 mm", "60 mm"]
[preflight]
ppi = { warn = 1 }
[gang]
nest = "box"
seconds = 5
max_length = "3 m"
"""
_SHOP = 'quiet = "0.1 s"\npatience = "0.5 s"\nlisting = "0.5 s"\nworkers = 2\nmemory_mib = 2048\nseconds_per_file = 60\n'


def main() -> None:
    """Drop, run a batch, look."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("folders", nargs="+", type=Path)
    parser.add_argument("--keep", type=Path, help="keep the shop here, to look at its notes")
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="filmhand-corpus-") as folder:
        shop = arguments.keep or Path(folder) / "shop"
        dropped = _drop(arguments.folders, _new_shop(shop))
        began = time.monotonic()
        done = subprocess.run([sys.executable, "-m", "filmhand", "batch", str(shop)], capture_output=True, text=True, check=False)
        seconds = time.monotonic() - began
        sys.stdout.write(done.stdout[-400:] + done.stderr[-2000:])
        wrong = [*_wrong(shop, dropped)]
        sys.stdout.write("\n".join(_summary(shop)) + "\n")
        sys.stdout.write(f"{len(dropped)} files in {seconds:.0f} s, exit code {done.returncode}, wrong {len(wrong)}\n")
        sys.stdout.writelines(f"  {line}\n" for line in wrong[:50])
    sys.exit(bool(wrong or done.returncode))


def _new_shop(shop: Path) -> Path:
    subprocess.run([sys.executable, "-m", "filmhand", "new", str(shop)], check=True, capture_output=True)
    for starter in (shop / "rules").glob("*.toml"):
        starter.unlink()
    (shop / "rules" / "odd.toml").write_text(_RULE, "utf-8")
    (shop / "shop.toml").write_text(_SHOP, "utf-8")
    inbox = shop / "in" / "odd"
    inbox.mkdir()
    return inbox


def _drop(folders: list[Path], inbox: Path) -> dict[str, str]:
    """Every file under the folders, each under a name of its own; its digest by that name. Empty ones wait for ever: left out."""
    dropped = {}
    for folder in folders:
        for path in sorted(folder.rglob("*")):
            if path.is_file() and not path.is_symlink() and path.stat().st_size:
                name = f"{len(dropped):04d} {path.name}"
                shutil.copyfile(path, inbox / name)
                dropped[name] = hashlib.sha256(path.read_bytes()).hexdigest()
    return dropped


def _jobs(shop: Path) -> list[sqlite3.Row]:
    with closing(sqlite3.connect(shop / ".filmhand" / "journal.sqlite")) as connection:
        connection.row_factory = sqlite3.Row
        return connection.execute("SELECT id, name, digest, stage, role, place, parent, findings FROM job").fetchall()


def _summary(shop: Path) -> Iterator[str]:
    jobs = _jobs(shop)
    for (role, stage), count in sorted(Counter((job["role"], job["stage"]) for job in jobs).items()):
        yield f"{role}, {stage}: {count}"
    checks = Counter(
        (finding["check"], finding["severity"])
        for job in jobs
        for finding in json.loads(job["findings"])
        if finding["severity"] in ("hold", "reject")
    )
    yield from (f"  {severity}: {check} {count}" for (check, severity), count in checks.most_common())


def _wrong(shop: Path, dropped: dict[str, str]) -> Iterator[str]:
    """What did not end as it must, in words."""
    left = [path.name for path in (shop / "in" / "odd").iterdir() if path.is_file()]
    yield from (f"left in the hot folder: {name}" for name in left if name.lower() != "readme.txt")
    jobs = _jobs(shop)
    by_name = Counter(bytes(job["name"]).decode("utf-8", "replace") for job in jobs if job["parent"] is None)
    yield from (f"{by_name[name]} jobs: {name}" for name in dropped if by_name[name] != 1)
    for job in jobs:
        if job["stage"] not in ("archived", "held", "rejected"):
            yield f"ended as {job['stage']}: {job['name']!r}"
        elif job["stage"] != "archived":
            yield from _badly_filed(shop, job)
    archived = {hashlib.sha256(path.read_bytes()).hexdigest() for path in (shop / "done").rglob("*") if path.is_file()}
    lost = (job for job in jobs if job["stage"] == "archived" and job["digest"] not in archived)
    yield from (f"not under done/: {job['name']!r}" for job in lost)


def _badly_filed(shop: Path, job: sqlite3.Row) -> Iterator[str]:
    folder = shop / {"held": "held", "rejected": "rejects"}[job["stage"]] / "odd" / job["place"]
    missing = [name for name in ("note.txt", "note.html", "note.json") if not (folder / name).is_file()]
    if missing:
        yield f"without {', '.join(missing)}: {folder.name}"
    elif not json.loads((folder / "note.json").read_bytes())["findings"]:
        yield f"a note that says nothing: {folder.name}"
    if not any(hashlib.sha256(path.read_bytes()).hexdigest() == job["digest"] for path in folder.iterdir()):
        yield f"without its original: {folder.name}"


if __name__ == "__main__":
    main()
