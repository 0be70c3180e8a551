"""A night of other people's worst files: each is printed, held or sent back, and none of them takes filmhand's work down.

Here the hostile ones and a sample of the others; all of them, some two thousand, by

    PYTHONPATH=tests python tests/whole/test_corpora.py [--every 1] [--into FOLDER] [CORPUS ...]
"""

import argparse
import json
import re
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path

import pytest

from corpora import CORPORA, Corpus, files_of
from crash.harness import journal_rows
from filmhand.work.capped import Cause
from small_shop import filmhand, new_shop

RULE = """
title = "Whatever comes"
garment = "#1b1b1d"
[size]
width = "15 mm"
[background]
opaque = "print"
[preflight]
ppi = { warn = 100 }
one_colour = { warn = 99 }
vanishing = { warn = 95 }
halo = { warn = 10 }
soft_edge = { warn = 5 }
special_inks = { warn = 0 }
fonts = { warn = 0 }
[gang]
nest = "box"
seconds = 0.5
max_length = "1 m"
"""
"""Lets through what can be let through, so that as much as possible is separated and laid out too."""
ENDED = {"archived", "held", "rejected"}
OURS = (Cause.FAULT, Cause.DIED)
"""What no file may lead to. Too much time or memory may be the file's fault, and its note says so."""
HOSTILE = re.compile("crash|timeout|oom|bomb|trunc|broken|overrun|corrupt|bad|invalid|fuzz|loop|issue", re.IGNORECASE)


def chosen(corpus: Corpus, every: int) -> Iterator[tuple[str, bytes]]:
    """All files whose name tells what they are for, and every N-th of the others."""
    for number, (name, data) in enumerate(files_of(corpus)):
        if number % every == 0 or (HOSTILE.search(name) and corpus.name == "pillow"):
            yield f"{corpus.name}-{number:04}-{name}", data


def night(shop: Path, files: Sequence[tuple[str, bytes]]) -> tuple[list[str], Counter[str]]:
    """Drop them in a shop, run a batch; what is wrong afterwards, and how many ended how."""
    for name, data in files:
        (shop / "in" / "small" / name).write_bytes(data)
    filmhand("batch", shop, seconds=30 + 15.0 * len(files))
    journal = shop / ".filmhand" / "journal.sqlite"
    rows = journal_rows(journal, "SELECT id, CAST(name AS TEXT) AS name, stage FROM job")
    names = {row["id"]: row["name"] for row in rows}
    wrong = [f"{row['name']} is still {row['stage']}" for row in rows if row["stage"] not in ENDED]
    wrong += [f"{name} became no job" for name in {name for name, _ in files} - set(names.values())]
    for row in journal_rows(journal, "SELECT job, sheet, facts FROM event WHERE kind = 'attempt-failed'"):
        why = json.loads(row["facts"])["why"]
        if why.startswith(tuple(OURS)):
            wrong.append(f"{names.get(row['job'], row['sheet'])}: {why[-1500:]}")
    return wrong, Counter(row["stage"] for row in rows)


@pytest.mark.slow
@pytest.mark.outside
@pytest.mark.parametrize("corpus", CORPORA, ids=lambda corpus: corpus.name)
def test_whatever_comes_ends_somewhere(corpus: Corpus, shop: Path) -> None:
    """Rows 19, 20 and 22 with files that others collected."""
    (shop / "rules" / "small.toml").write_text(RULE, "utf-8")
    files = list(chosen(corpus, 50))
    wrong, ended = night(shop, files)
    assert not wrong
    assert sum(ended.values()) >= len(files)


def main() -> None:
    """All of them; says what is wrong, and how many ended how."""
    parser = argparse.ArgumentParser(description=main.__doc__)
    parser.add_argument("corpora", nargs="*", choices=[corpus.name for corpus in CORPORA], metavar="CORPUS")
    parser.add_argument("--every", type=int, default=1)
    parser.add_argument("--into", type=Path, help="keep the shops in this folder")
    words = parser.parse_args()
    bad = 0
    with tempfile.TemporaryDirectory(prefix="filmhand-corpora-") as folder:
        for corpus in CORPORA:
            if words.corpora and corpus.name not in words.corpora:
                continue
            files = list(chosen(corpus, words.every))
            wrong, ended = night(new_shop((words.into or Path(folder)) / corpus.name, rule=RULE), files)
            sys.stdout.write("".join(f"{line}\n" for line in [*wrong, f"{corpus.name}: {len(files)} files, {dict(ended)}"]))
            sys.stdout.flush()
            bad += len(wrong)
    sys.exit(bool(bad))


if __name__ == "__main__":
    main()
