"""Forgetting what ended long ago: jobs with all that belongs to them, and sheets on which none of them lies any more.

A copy leaves the sums of invariant 6 on both sides at once, for its job and its place go in one transaction. The newest job and
the newest sheet stay, however old: later ones are numbered after them.
"""

import sqlite3
from datetime import datetime, timedelta
from itertools import accumulate
from typing import Final

from filmhand.journal.journal import Journal

_DUE: Final = """
    SELECT id, copies FROM job INDEXED BY job_ended
    WHERE stage IN ('archived', 'rejected') AND since < ? AND datetime(since) < datetime(?)
      AND seq < (SELECT max(seq) FROM job)
      AND NOT EXISTS (SELECT 1 FROM source WHERE source.job = job.id AND NOT removed)
      AND NOT EXISTS (SELECT 1 FROM job AS part WHERE part.parent = job.id)
      AND NOT EXISTS (SELECT 1 FROM order_line JOIN job AS list ON list.id = order_line.list
                      WHERE order_line.job = job.id AND list.stage NOT IN ('archived', 'rejected'))
      AND NOT EXISTS (SELECT 1 FROM placement JOIN sheet ON sheet.id = placement.sheet
                      WHERE placement.job = job.id AND sheet.stage NOT IN ('delivered', 'cancelled'))
    ORDER BY since LIMIT ?
"""
_OF_JOB: Final = (
    "DELETE FROM event WHERE job = ?",
    "DELETE FROM placement WHERE job = ?",
    "DELETE FROM order_line WHERE list = ?",
    "DELETE FROM order_line WHERE job = ?",
    "DELETE FROM source WHERE job = ?",
    "DELETE FROM job WHERE id = ?",
)
_SHEETS: Final = """
    SELECT id FROM sheet WHERE stage IN ('delivered', 'cancelled') AND datetime(since) < datetime(?)
      AND id < (SELECT max(id) FROM sheet) AND NOT EXISTS (SELECT 1 FROM placement WHERE placement.sheet = sheet.id)
    LIMIT ?
"""


def forget(journal: Journal, *, before: datetime, most_jobs: int, most_copies: int) -> int:
    """Remove some of what ended before a time, the oldest first, in one transaction; how many jobs and sheets that were.

    No more jobs, or sheets, than `most_jobs`, and no more copies than `most_copies` unless one job alone has more. What a
    part, an order list or a sheet still under way refers to stays until that has ended.
    """
    # Times are written with their own zone's offset: their text is in order but for a day or so, and that is what has an index.
    surely = (before + timedelta(days=2)).isoformat()
    jobs = [(row["id"], row["copies"]) for row in journal.rows(_DUE, surely, before.isoformat(), most_jobs)]
    so_far = accumulate(copies for _, copies in jobs)
    some = [job for place, ((job, _), sum_) in enumerate(zip(jobs, so_far, strict=True)) if place == 0 or sum_ <= most_copies]
    sheets = [row["id"] for row in journal.rows(_SHEETS, before.isoformat(), most_jobs)]
    if some or sheets:
        with journal.commit() as cursor:
            _remove(cursor, some, sheets)
    return len(some) + len(sheets)


def _remove(cursor: sqlite3.Connection, jobs: list[str], sheets: list[int]) -> None:
    for query in _OF_JOB:
        cursor.executemany(query, [(job,) for job in jobs])
    for query in ("DELETE FROM event WHERE sheet = ?", "DELETE FROM sheet WHERE id = ?"):
        cursor.executemany(query, [(sheet,) for sheet in sheets])
