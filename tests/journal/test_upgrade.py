"""A journal of version 1 opens in this program with all that was in it."""

import sqlite3
from datetime import UTC, datetime
from pathlib import Path

from filmhand.journal import jobs, schema
from filmhand.journal.journal import Journal
from filmhand.journal.records import JobRole
from filmhand.journal.states import JobStage
from filmhand.preflight.finding import Severity

_FINDING = (
    '[{"check":"ground","severity":"hold","message":"It has a white ground.","advice":"","value":null,"limit":null,'
    '"unit":"","where":[]}]'
)
_TICKET = (
    '{"copies":6,"width":100.0,"height":null,"order":"A{1}","garment":"#1b1b1d","placement":null,"due":null,"customer":null}'
)


def test_a_journal_of_the_first_version_is_brought_forward(tmp_path: Path) -> None:
    """Made by the first step of the schema alone, with a row as that version wrote it: sentences were bare text then."""
    path = tmp_path / "journal.sqlite"
    with sqlite3.connect(path) as connection:
        connection.executescript(schema.STEPS[0])
        at = datetime(2026, 11, 24, 22, 0, tzinfo=UTC).isoformat()
        connection.execute(
            "INSERT INTO job (id, seq, folder, name, digest, size_bytes, stage, copies, ticket, arrived, since, findings,"
            " rule_digest) VALUES ('old', 1, 'dark', ?, 'd', 9, 'held', 6, ?, ?, ?, ?, '')",
            (b"caf\xe9.png", _TICKET, at, at, _FINDING),
        )
        connection.execute("PRAGMA user_version = 1")
    connection.close()
    with Journal.open(path) as journal:
        job = jobs.find(journal, "old")
    assert job is not None
    assert (job.stage, job.copies, job.ticket.order, job.ticket.width) == (JobStage.HELD, 6, "A{1}", 100.0)
    assert (job.role, job.page, job.parent) == (JobRole.ARTWORK, 0, None)
    (finding,) = job.findings
    assert (finding.severity, str(finding.message), finding.advice) == (Severity.HOLD, "It has a white ground.", None)
